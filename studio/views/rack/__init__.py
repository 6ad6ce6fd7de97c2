"""Pages about metal that the work leaves or needs."""
