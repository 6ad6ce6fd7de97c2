"""The layout table as the server draws it: metal, pieces, faults and the strip left.

Each stock piece is drawn in its own millimetres with y turned downwards, shifted so that they lie
side by side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from shapely.geometry import LineString, Point, Polygon

from studio.core.cutting import Stock
from studio.core.picturing.edges import clean_lines, rough_lines
from studio.core.picturing.paths import Flip, numbers
from studio.core.verifying import measurable

from .faults import words
from .state import Looked

BETWEEN_SHARE = 0.05
TEXT_SHARE = 0.032
PLAIN_MM = 0.05
MOST_OFF_SHARE = 0.6
"""What lies off the metal is shown as far out as this share of the table."""


@dataclass(frozen=True, slots=True)
class _Metal:
    stock: Stock
    shift: float
    flip: Flip


def table_picture(now: Looked, units: str) -> dict[str, Any]:
    """For `studio/layouts/picture.html`; lengths in mm of the picture, y downwards."""
    sizes = [(m, *m.outline.bounds) for m in now.job.metal]
    wide = sum(x1 - x0 for _, x0, _, x1, _ in sizes)
    high = max((y1 - y0 for _, _, y0, _, y1 in sizes), default=1.0)
    between = max(4.0, BETWEEN_SHARE * max(wide, high))
    text = TEXT_SHARE * max(min(wide, 2.0 * high), 1.0)
    metals: dict[str, _Metal] = {}
    at = 0.0
    for stock, x0, _, x1, y1 in sizes:
        metals[stock.id] = _Metal(stock, at, Flip(x0, y1, PLAIN_MM))
        at += x1 - x0 + between
    full = max(at - between, 1.0)
    box = _box(now, metals, full, high)
    return {
        "view_box": numbers(*box),
        "text_mm": round(text, 2),
        "metals": [_drawn(now, metal, text, units) for metal in metals.values()],
    }


def _drawn(now: Looked, metal: _Metal, text: float, units: str) -> dict[str, Any]:
    stock, flip = metal.stock, metal.flip
    x0, y0, x1, y1 = stock.outline.bounds
    strip = now.shown.strip
    wrong = {(f.piece, f.copy) for f in now.judgement.faults}
    wrong |= {(f.other, f.other_copy or 0) for f in now.judgement.faults if f.other is not None}
    pinned = {(piece, copy) for piece, copy in now.layout.pinned}
    pieces = []
    for p in measurable(now.job, now.placements):
        if p.metal != stock.id:
            continue
        outline = p.lay(now.job.wanted_by_id[p.piece].outline)
        spot = flip.point(outline.representative_point())
        key = (p.piece, p.copy)
        pieces.append(
            {
                "piece": p.piece,
                "copy": p.copy,
                "metal": p.metal,
                "label": now.labels.get(key, "?"),
                "path": flip.path([outline]),
                "x": f"{spot[0]:.2f}",
                "y": f"{spot[1]:.2f}",
                "wrong": key in wrong,
                "pinned": key in pinned,
            }
        )
    return {
        "id": stock.id,
        "shift": f"{metal.shift:.2f}",
        "width": x1 - x0,
        "height": y1 - y0,
        "name_y": f"{y1 - y0 + 1.4 * text:.2f}",
        "path": flip.path(stock.parts),
        "clean": flip.lines(clean_lines(stock).geoms),
        "rough": flip.lines(rough_lines(stock).geoms),
        "pieces": pieces,
        "strip": flip.path([strip[1]]) if strip and strip[0] == stock.id else "",
        "shared": _lines(flip, now.shown.shared, stock.id),
        "free": _lines(flip, now.shown.free, stock.id),
        "faults": _faults(now, metal, units),
        "parts": _parts(now, metal),
        "cuts": _cuts(now, metal),
    }


def _parts(now: Looked, metal: _Metal) -> list[dict[str, Any]]:
    rows = []
    for part in (now.parting or {}).get("parts", ()):
        if part["metal"] != metal.stock.id:
            continue
        polygons = [Polygon(rings[0], rings[1:]) for rings in part["rings"]]
        x, y = metal.flip.point(Point(part["box"][0], part["box"][3]))
        path = metal.flip.path(polygons)
        rows.append(part | {"path": path, "x": f"{x + 1:.2f}", "y": f"{y + 5:.2f}"})
    return rows


def _cuts(now: Looked, metal: _Metal) -> list[dict[str, Any]]:
    rows = []
    for cut in (now.parting or {}).get("cuts", ()):
        if cut["metal"] != metal.stock.id or not cut["runs"]:
            continue
        x, y = metal.flip.point(Point(cut["runs"][0][:2]))
        path = metal.flip.lines(LineString([run[:2], run[2:]]) for run in cut["runs"])
        rows.append({"number": cut["number"], "path": path, "x": f"{x:.2f}", "y": f"{y:.2f}"})
    return rows


def _lines(flip: Flip, lines: Any, metal: str) -> str:
    return flip.lines(LineString([line[:2], line[2:]]) for on, line in lines if on == metal)


def _faults(now: Looked, metal: _Metal, units: str) -> list[dict[str, Any]]:
    """Where faults show on this stock piece, with the words for each."""
    lies = {(p.piece, p.copy): p.metal for p in now.placements}
    found = []
    for number, fault in enumerate(now.judgement.faults, start=1):
        if fault.at is None or lies.get((fault.piece, fault.copy)) != metal.stock.id:
            continue
        x, y = metal.flip.point(Point(fault.at))
        found.append(
            {
                "number": number,
                "x": f"{x:.2f}",
                "y": f"{y:.2f}",
                "words": words(fault, now.labels, units),
            }
        )
    return found


def _box(
    now: Looked, metals: dict[str, _Metal], wide: float, high: float
) -> tuple[float, float, float, float]:
    """Around all metal, and around what lies off it where that is not far away."""
    off = MOST_OFF_SHARE * max(wide, high)
    margin = max(2.0, 0.04 * max(wide, high))
    x0, y0, x1, y1 = 0.0, 0.0, wide, high
    for p in measurable(now.job, now.placements):
        metal = metals[p.metal]
        shape = metal.flip.shape(p.lay(now.job.wanted_by_id[p.piece].outline))
        assert isinstance(shape, Polygon)
        a, b, c, d = shape.bounds
        x0, x1 = min(x0, max(a + metal.shift, -off)), max(x1, min(c + metal.shift, wide + off))
        y0, y1 = min(y0, max(b, -off)), max(y1, min(d, high + off))
    text = TEXT_SHARE * max(min(wide, 2.0 * high), 1.0)
    return x0 - margin, y0 - margin, x1 - x0 + 2 * margin, y1 - y0 + 2 * margin + 1.5 * text
