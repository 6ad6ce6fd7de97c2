"""Forms about metal that the work leaves or takes up: offcuts, the return, what fits."""
