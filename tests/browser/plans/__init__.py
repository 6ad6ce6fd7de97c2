"""Pages of cut plans in a real browser."""
