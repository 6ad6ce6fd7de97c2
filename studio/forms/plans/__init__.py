"""Forms of cut plans: which pieces, by which rules."""
