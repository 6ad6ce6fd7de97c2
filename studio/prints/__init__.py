"""Papers for the bench: pattern sheet, placement sheet, cut plan and checklists, print and PDF."""
