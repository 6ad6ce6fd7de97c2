"""Pages of cut plans."""
