"""Amounts and measures: how they are rounded, read and written."""
