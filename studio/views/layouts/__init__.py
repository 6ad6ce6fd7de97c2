"""The layout table."""
