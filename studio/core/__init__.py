"""Geometry, bench words and prices: decisions that need no database. No Django, no rows."""
