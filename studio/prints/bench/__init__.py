"""Papers that lie at the bench: checklists, labels for bags."""
