"""Patterns are brought, built, corrected, handed in and answered; no version is ever lost."""
