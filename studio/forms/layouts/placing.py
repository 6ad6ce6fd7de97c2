"""Places to choose for a piece on the layout table, in words and as forms send them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from classroom.figures.units import format_length
from classroom.refusals import Refused
from studio.core.cutting import Job, Placement, Stock
from studio.core.laying_out.places import (
    Beside,
    Corner,
    Edge,
    Free,
    Place,
    corners_of,
    edges_of,
)

MOST_BESIDE: Final = 60
MIDDLE_SHARE: Final = 0.2


@dataclass(frozen=True, slots=True)
class Choices:
    """Places of one kind: values as they are sent, with their words."""

    title: str
    choices: tuple[tuple[str, str], ...]


def place_choices(
    job: Job,
    placements: Sequence[Placement],
    labels: Mapping[tuple[str, int], str],
    units: str,
    which: tuple[str, int],
) -> list[Choices]:
    """Everything that can be chosen for this piece, stock piece by stock piece."""
    found = [Choices(_("Anywhere"), (("free", _("the first free place")),))]
    for metal in job.metal:
        several = len(job.metal) > 1
        rows = [(f"free|{metal.id}", _("the first free place on it"))] if several else []
        rows += [
            (f"corner|{metal.id}|{number}", words)
            for number, words in enumerate(_corner_words(metal))
        ]
        rows += [
            (f"edge|{metal.id}|{number}", words)
            for number, words in enumerate(_edge_words(job, metal, units))
        ]
        if rows:
            found.append(Choices(metal.id, tuple(rows)))
    beside = tuple(
        (f"beside|{p.piece}|{p.copy}", _("beside %(piece)s") % {"piece": labels[p.piece, p.copy]})
        for p in placements
        if (p.piece, p.copy) != which and (p.piece, p.copy) in labels
    )
    if beside:
        found.append(Choices(_("Pieces"), beside[:MOST_BESIDE]))
    return found


def place_asked(text: str) -> Place:
    """The place that a form names. Raises Refused."""
    kind, *rest = text.split("|")
    match kind, rest:
        case "free", []:
            return Free()
        case "free", [metal]:
            return Free(metal)
        case "corner", [metal, number]:
            return Corner(metal, _number(number))
        case "edge", [metal, number]:
            return Edge(metal, _number(number))
        case "beside", [piece, copy]:
            return Beside(piece, _number(copy))
    raise Refused(_("Choose a place first."))


def _number(text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 7):
        raise Refused(_("Choose a place first."))
    return int(text)


def _corner_words(metal: Stock) -> list[str]:
    x0, y0, x1, y1 = metal.outline.bounds
    found = []
    for _into, out in corners_of(metal):
        right, up = out[0] > (x0 + x1) / 2.0, out[1] > (y0 + y1) / 2.0
        found.append(
            {
                (False, False): _("lower left corner"),
                (True, False): _("lower right corner"),
                (False, True): _("upper left corner"),
                (True, True): _("upper right corner"),
            }[right, up]
        )
    return _told_apart(found)


def _edge_words(job: Job, metal: Stock, units: str) -> list[str]:
    found = []
    for edge in edges_of(job, metal):
        length = math.dist(edge[:2], edge[2:])
        names = {"edge": _side(edge), "length": format_length(length, units)}
        found.append(_("along the %(edge)s, %(length)s") % names)
    return _told_apart(found)


def _side(edge: Sequence[float]) -> str:
    """By the way that it looks, with the metal on its left."""
    x0, y0, x1, y1 = edge
    return side_words(y1 - y0, -(x1 - x0))


def side_words(x: float, y: float) -> str:
    """What the edge is called that looks out that way."""
    out = math.degrees(math.atan2(y, x)) % 360.0
    names = (
        _("right edge"),
        _("upper right edge"),
        _("upper edge"),
        _("upper left edge"),
        _("left edge"),
        _("lower left edge"),
        _("lower edge"),
        _("lower right edge"),
    )
    return names[round(out / 45.0) % 8]


def _told_apart(words: Sequence[str]) -> list[str]:
    """Those that read the same get numbers."""
    often, so_far = Counter(words), Counter[str]()
    found = []
    for each in words:
        so_far[each] += 1
        found.append(f"{each} ({so_far[each]})" if often[each] > 1 else each)
    return found
