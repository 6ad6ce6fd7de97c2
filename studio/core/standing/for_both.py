"""Answers that a student and a teacher get alike."""

from __future__ import annotations

from inventory.metals import Say

from .facts import Next, Place, Standing, Turn


def has_left(now: Standing, say: Say) -> Next:
    """The student has left the course; `now.left` says so in a sentence."""
    title, label = say("Left the course"), say("See the project")
    return Next(Turn.WAITING, title, say(now.left), label, Place.PROJECT)


def all_signed(say: Say) -> Next:
    """No step is open, and the project has not moved on yet."""
    return Next(Turn.WAITING, say("All steps are signed"), "", say("See the bench"), Place.BENCH)
