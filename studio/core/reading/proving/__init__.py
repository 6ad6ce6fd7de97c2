"""Proves the reading of pictures: random drawings are rendered as scans and photos and read back.

The true lines are known, so every error has a figure. `manage.py bench_reading` prints them.
"""
