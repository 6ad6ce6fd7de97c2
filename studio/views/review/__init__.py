"""Pages that look back: waste, cost, records."""
