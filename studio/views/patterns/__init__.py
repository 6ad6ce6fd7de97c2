"""Pages of projects and their patterns: brought, looked at, corrected, answered."""
