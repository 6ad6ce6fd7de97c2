"""Courses, class lists and seats: who is in which class, and since when."""
