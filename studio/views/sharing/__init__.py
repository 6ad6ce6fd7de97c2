"""Pages of metal in several hands."""
