"""Who needs whom now, and what is next on each project."""
