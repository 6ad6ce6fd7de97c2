"""Pages of briefs and terms."""
