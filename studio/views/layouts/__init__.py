"""Layouts: the table, what is handed in, and what a teacher makes of it."""
