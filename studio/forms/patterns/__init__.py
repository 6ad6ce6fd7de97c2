"""Forms of patterns: brought, built, corrected, answered."""
