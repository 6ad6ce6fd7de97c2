"""Budgets and their ledger: what is set aside, spent and given back."""
