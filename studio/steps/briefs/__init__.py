"""Briefs are written and copied."""
