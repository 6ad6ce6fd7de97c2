"""A colour and a pattern for each student on a picture that several share, beside the letter.

Seven of the eight colours are those of Okabe & Ito's Color Universal Design palette (2002/2008;
"Color Universal Design: how to make figures and presentations that are friendly to colorblind
people"; the values from memory). Its black is left out, for it would hide what is drawn on a
piece, and white takes its place. They come in the order in which neighbours are furthest apart
for everybody; tests/core/test_colours.py measures it.

A colour alone tells nobody anything in black and white, so each comes with a pattern in black
lines, which has nothing in common with the slanted hatches and the dots of offcuts, windows and
scrap. Eight colours and nine patterns come round at different times: 72 students differ, and
nine in a row by the pattern alone. The names are classes of static/css/drawing.css and
drawing_print.css.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from studio.core.cutting import Job, Placement

from .labels import labels_of, number_of

COLOURS = (
    "#e69f00",  # orange
    "#009e73",  # bluish green
    "#f0e442",  # yellow
    "#cc79a7",  # reddish purple
    "#ffffff",  # white
    "#56b4e9",  # sky blue
    "#d55e00",  # vermilion
    "#0072b2",  # blue
)
PATTERNS = (
    "plain",
    "level lines",
    "rings",
    "upright lines",
    "pluses",
    "zigzag",
    "grid",
    "dashes",
    "triangles",
)


@dataclass(frozen=True, slots=True)
class Mark:
    """What tells one student's things from another's: the letter, a colour and a pattern."""

    letter: str
    colour: int  # from 1
    pattern: int  # from 1

    @property
    def hue(self) -> str:
        """The class that fills with the colour."""
        return f"hue-{self.colour}"

    @property
    def weave(self) -> str:
        """The class that fills with the pattern, which leaves the colour below it to be seen."""
        return f"weave-{self.pattern}"


def mark_of(letter: str) -> Mark:
    """The mark of a student's letter, the same on every picture of a plan.

    ValueError for what is no letter of a plan.
    """
    number = number_of(letter)
    return Mark(letter, number % len(COLOURS) + 1, number % len(PATTERNS) + 1)


def marks_of(job: Job) -> dict[str, Mark]:
    """The marks of a job's groups; none where all is one student's, for whom nothing is to tell
    apart."""
    letters = labels_of(job)
    if len(letters) < 2:
        return {}
    return {group: mark_of(letter) for group, letter in letters.items()}


def groups_among(job: Job, placements: Iterable[Placement]) -> tuple[str, ...]:
    """Whose pieces these placements are, in the job's order."""
    found = {job.wanted_by_id[p.piece].group or "" for p in placements}
    return tuple(group for group in labels_of(job) if group in found)
