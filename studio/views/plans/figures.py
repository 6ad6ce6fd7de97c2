"""Figures and pictures of a plan's page: drawn once for everybody who looks at the same plan."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import Any

from django.core.cache import cache
from django.utils.translation import gettext

from classroom.figures.rounding import share_of_area
from classroom.figures.units import format_area, format_share
from studio.core.cutting import Job, Plan, job_to_json, plan_to_json
from studio.core.drawing import Piece
from studio.core.picturing.plan import MetalPicture, picture

KEPT_SECONDS = 3600
SCREEN_MM = 0.05  # far below a pixel, and a traced outline has a tenth of its points


def drawn(
    job: Job,
    plan: Plan,
    pieces: Callable[[], Mapping[str, Piece]],
    frame_depth_mm: float,
    turns: Sequence[str] = (),
) -> list[MetalPicture]:
    """The pictures of a plan, numbered by `turns` where its metal is passed on.

    A class that watches its plan grow asks for the same ones again and again, so they are kept
    under what they were drawn from.
    """
    written = plan_to_json(plan)
    shown = [written.get(name) for name in ("placements", "measures", "cuts", "blanks")]
    content = json.dumps([job_to_json(job), shown, frame_depth_mm, list(turns)])
    key = f"plan-picture-4-{hashlib.sha256(content.encode()).hexdigest()}"
    found = cache.get(key)
    if found is None:
        found = list(
            picture(
                job,
                plan,
                pieces(),
                plain_mm=SCREEN_MM,
                frame_depth_mm=frame_depth_mm,
                turns=turns,
            )
        )
        cache.set(key, found, KEPT_SECONDS)
    return list(found)


LEAST_SPAN = 0.1
"""The curve's height stands for at least this share of the first plan's cost."""


def curve_of(points: list[list[float]], seconds: float) -> dict[str, Any] | None:
    """The cost curve as steps in a box of 100 by 30, and the share that was saved, 0 to 1.

    A better plan places more pieces or costs less; the curve begins where all are placed. Its
    height is drawn against the first plan's cost, so that a small gain looks small. The cost
    weighs scrap, sawing and broken-up sheets against each other; it is no price, and not shown.
    """
    falling = points
    for start in range(len(points)):
        tail = [cost for _, cost in points[start:]]
        if all(one >= other for one, other in pairwise(tail)):
            falling = points[start:]
            break
    if len(falling) < 2:
        return None
    first, last = falling[0][1], falling[-1][1]
    span = max(first - last, LEAST_SPAN * first, 1e-9)
    steps = []
    for number, (at, cost) in enumerate(falling):
        x = min(100.0, 100.0 * at / max(seconds, 0.1))
        y = 2.0 + 26.0 * (first - cost) / span
        steps.append(f"M{x:.1f} {y:.1f}" if number == 0 else f"H{x:.1f}V{y:.1f}")
    return {
        "path": "".join(steps) + "H100",
        "share": (first - last) / first if first > 0 else 0.0,
    }


def bar_of(one: MetalPicture, units: str) -> dict[str, Any]:
    """A stock piece as one bar: pieces, offcuts, scrap with the saw's dust.

    Its value is the share of the metal used up that is in the pieces, as everywhere.
    """
    used = one.piece_mm2 + one.scrap_mm2
    whole = one.piece_mm2 + one.kept_mm2 + one.scrap_mm2 or 1.0
    parts, start, words = [], 0.0, []
    for kind, word, area in (
        ("piece", gettext("Pieces"), one.piece_mm2),
        ("offcut", gettext("Offcuts"), one.kept_mm2),
        ("scrap", gettext("Waste (kerf and scrap)"), one.scrap_mm2),
    ):
        width = 100.0 * area / whole
        parts.append({"kind": kind, "start": round(start, 2), "width": round(width, 2)})
        words.append(f"{word} {format_area(area, units)}")
        start += width
    text = ", ".join(words)
    share = format_share(share_of_area(one.piece_mm2, used) or 0)
    value = gettext("%(share)s in pieces") % {"share": share}
    return {"label": one.code, "url": "", "value": value, "text": text, "parts": parts}
