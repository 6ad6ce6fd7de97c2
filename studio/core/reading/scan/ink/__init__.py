"""Ink told from paper and made lines, in dots. How large a dot is, `scaling` knows."""
