"""Our own static files as a browser gets them: few, compressed, kept for good.

The sources stay small files that a browser can read as they are (development and tests do). When
they are collected, a sheet gets what it imports written into it, a script module likewise, and
both are named by their content.
"""
