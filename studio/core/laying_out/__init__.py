"""Laying out by hand, as plain geometry: deeds, places to choose, what no longer holds."""
