"""Names that are no longer to be kept: erased by date or on request, while rows and counts stay.

A student's name, user name and class list id give way to a label that says nothing, on the
person's row and wherever the diary tells of them. Everything that refers to the person by their
row (permits, attempts, sign-offs, charges) stays and counts as before.

names       the label, and how it takes the names' place: the only place that changes rows which
            are otherwise append-only
by_date     names whose years are over: the name alone goes, words that people typed stay
on_request  one named student: also what the student brought and typed, and what was written
            about their work; every other text is searched for the name
correcting  who asked, or when, was written down wrongly
reach       what the apps above keep of a student, told to this one by themselves
"""

from __future__ import annotations

from .by_date import due, erase_due
from .correcting import correct_erasure, request_of
from .on_request import Request, erase_on_request, look_at
from .reach import keepings

__all__ = [
    "Request",
    "correct_erasure",
    "due",
    "erase_due",
    "erase_on_request",
    "keepings",
    "look_at",
    "request_of",
]
