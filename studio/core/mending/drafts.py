"""What could be neater about one line, before anybody has asked what the drawing says to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studio.core.reading.tracing import Round

from . import mend as codes
from . import thresholds
from .conics import Ellipse
from .edges import Edge, edges_of, put_together, ruled
from .folding import folded
from .smoothing import has_teeth, is_ornamented, smoothed
from .stencils import stencilled
from .turning import Turned, turned
from .ways import Points, Way

_ROUND_TOLERANCE_MM = 0.005  # as exact circles of a file are flattened


@dataclass(frozen=True, slots=True)
class Draft:
    """New points for one line, and the words for it. `round` when it becomes a true circle."""

    code: str
    points: Points
    sentence: str
    deed: str
    done: str
    most_mm: float
    least_mm: float = thresholds.LEAST_MOVE_MM
    round: Round | None = None


def drafts(way: Way, *, by_hand: bool) -> list[Draft]:
    """All that the line could do with, the surest first.

    `by_hand` when the line is known to be drawn by hand; else only lines that tremble count.
    """
    name = f"line {way.line.id}"
    oval = stencilled(way, paper=by_hand)
    if oval is not None:
        return [_round_draft(name, oval.outline(_ROUND_TOLERANCE_MM), oval)]
    edges = edges_of(way, paper=by_hand)
    found: list[Draft] = []
    straight = _straight(way, edges, name)
    if straight is not None:
        found.append(straight)
    calm = _smooth(way, edges, name)
    if not (by_hand or found or calm):
        return []  # no sign of a hand
    turns = turned(way, edges)
    for each in turns:
        points = put_together(way, {number: edge.ray for number, edge in edges.items()} | each.rays)
        if points is not None:
            found.append(_turn_draft(name, points, each))
    if not found:  # a ruler comes before folding
        found += _fold_drafts(way, name)
    return found + calm


def _straight(way: Way, edges: dict[int, Edge], name: str) -> Draft | None:
    count = sum(edge.nearly for edge in edges.values())
    if not count:
        return None
    points = put_together(way, ruled(way, edges))
    if points is None:
        return None
    if len(way.sections) == 1:
        sentence, deed, done = f"{name} is", "Straighten the line", f"straightened {name}"
        it = "it"
    elif count == 1:
        sentence, deed = f"one side of {name} is", "Straighten the side"
        done, it = f"straightened one side of {name}", "it"
    else:
        sentence, deed = f"{count} sides of {name} are", f"Straighten the {count} sides"
        done, it = f"straightened {count} sides of {name}", "them"
    sentence = f"{sentence[0].upper()}{sentence[1:]} nearly straight. Draw {it} along a ruler."
    return Draft(codes.STRAIGHT, points, sentence, deed, done, thresholds.STRAIGHT_MOST_MM + 0.4)


def _turn_draft(name: str, points: Points, each: Turned) -> Draft:
    degrees = f"{each.most_deg:.1f}°"
    if each.square and each.count == 1:
        return Draft(
            codes.SQUARE,
            points,
            f"One corner of {name} is nearly square, {degrees} off. Draw it with a set square.",
            "Make the corner square",
            f"made one corner of {name} square",
            thresholds.TURN_MOST_MM,
            thresholds.TURN_LEAST_MM,
        )
    if each.square:
        return Draft(
            codes.SQUARE,
            points,
            f"{each.count} corners of {name} are nearly square, up to {degrees} off. "
            "Draw them with a set square.",
            f"Make the {each.count} corners square",
            f"made {each.count} corners of {name} square",
            thresholds.TURN_MOST_MM,
            thresholds.TURN_LEAST_MM,
        )
    return Draft(
        codes.PARALLEL,
        points,
        f"{each.count} sides of {name} are nearly parallel, {degrees} apart. "
        "Slide a set square along a ruler to draw them.",
        f"Make the {each.count} sides parallel",
        f"made {each.count} sides of {name} parallel",
        thresholds.TURN_MOST_MM,
        thresholds.TURN_LEAST_MM,
    )


def _round_draft(name: str, points: Points, oval: Ellipse) -> Draft:
    points = np.round(points, 6)
    first = f"{name[:1].upper()}{name[1:]}"
    if oval.ratio == 1.0:
        return Draft(
            codes.CIRCLE,
            points,
            f"{first} is nearly a circle. Draw it with a circle stencil or a compass.",
            "Make it a circle",
            f"made {name} a circle",
            thresholds.ROUND_MOST_MM,
            round=Round(round(oval.x_mm, 6), round(oval.y_mm, 6), round(2 * oval.greater_mm, 6)),
        )
    return Draft(
        codes.ELLIPSE,
        points,
        f"{first} is nearly an ellipse. Draw it with an ellipse stencil.",
        "Make it an ellipse",
        f"made {name} an ellipse",
        thresholds.ROUND_MOST_MM,
    )


def _fold_drafts(way: Way, name: str) -> list[Draft]:
    if has_teeth(way) or any(is_ornamented(way, section) for section in way.sections):
        return []  # an ornament need not begin alike on both sides
    found = folded(way)
    if not found:
        return []
    across = "left and right" if found[0].side in ("left", "right") else "upper and lower"
    words = {each.side: f"Or the other way round: keep the {each.side} half." for each in found}
    words[found[0].side] = (
        f"The {across} halves of {name} nearly mirror each other. "
        "Draw one half on folded paper and trace it through."
    )
    return [
        Draft(
            codes.SYMMETRIC,
            each.points,
            words[each.side],
            f"Mirror the {each.side} half",
            f"mirrored the {each.side} half of {name}",
            thresholds.SYMMETRIC_MOST_MM,
        )
        for each in found
    ]


def _smooth(way: Way, edges: dict[int, Edge], name: str) -> list[Draft]:
    calm = {
        number: found
        for number, section in enumerate(way.sections)
        if number not in edges and (found := smoothed(way, section)) is not None
    }
    if not calm:
        return []
    if way.sections[0].whole:
        points = calm[0].points
    else:
        parts = [
            calm[number].points if number in calm else way.vertices(section)
            for number, section in enumerate(way.sections)
        ]
        points = np.vstack([part[:-1] for part in parts])
        if not way.closed:
            points = np.vstack((points, parts[-1][-1:]))
    return [
        Draft(
            codes.SMOOTH,
            points,
            f"The curves of {name} wobble. Turn the paper and draw each curve in one sweep.",
            "Smooth the curves",
            f"smoothed the curves of {name}",
            thresholds.SMOOTH_MOST_MM + 0.05,
        )
    ]
