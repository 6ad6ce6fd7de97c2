"""What of the job that a layout was laid by is another today? Pure: two jobs as JSON go in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

PIECE_GONE: Final = "piece-gone"
PIECE_NEW: Final = "piece-new"
PIECE_CHANGED: Final = "piece-changed"
METAL_GONE: Final = "metal-gone"
METAL_CHANGED: Final = "metal-changed"
EDGES_CHANGED: Final = "edges-changed"
GRAIN_CHANGED: Final = "grain-changed"
OF_METAL: Final = (METAL_GONE, METAL_CHANGED, EDGES_CHANGED, GRAIN_CHANGED)

RULES: Final = {
    "kerf_mm": "kerf",
    "gap_mm": "gap",
    "shared_mm": "shared",
    "straight_min_mm": "straight",
    "edge_margin_mm": "margin",
}
"""Fields of a job by which hands lay, each with the code of its change."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that is another: a code of this module, or one of `RULES`, with what it is about.

    `what` is a piece's id within its pattern or a stock piece's label code; `before` and `now` are
    in mm, for rules only.
    """

    code: str
    what: str = ""
    before_mm: float | None = None
    now_mm: float | None = None


def within_pattern(piece: str) -> str:
    """A piece's id without the version of its pattern: "7/2" becomes "2"."""
    return piece.rpartition("/")[2]


def changes(laid_by: Mapping[str, Any], today: Mapping[str, Any]) -> tuple[Change, ...]:
    """Everything in which `today` differs for hands from the job that was `laid_by`.

    A stock piece that `today` does not offer is gone; one that only `today` offers is no change,
    and neither is a piece that differs in its version alone.
    """
    return (
        *_pieces(laid_by["pieces"], today["pieces"]),
        *_metal(laid_by["metal"], today["metal"]),
        *_rules(laid_by, today),
    )


def _pieces(before: list[Any], now: list[Any]) -> Iterator[Change]:
    old = {within_pattern(piece["id"]): piece for piece in before}
    new = {within_pattern(piece["id"]): piece for piece in now}
    for name, piece in old.items():
        if name not in new:
            yield Change(PIECE_GONE, name)
        elif any(
            piece.get(field) != new[name].get(field)
            for field in ("outline", "count", "may_mirror", "grain_deg")
        ):
            yield Change(PIECE_CHANGED, name)
    for name in new:
        if name not in old:
            yield Change(PIECE_NEW, name)


def _metal(before: list[Any], now: list[Any]) -> Iterator[Change]:
    new = {metal["id"]: metal for metal in now}
    for metal in before:
        other = new.get(metal["id"])
        if other is None:
            yield Change(METAL_GONE, metal["id"])
        elif metal["outline"] != other["outline"]:
            yield Change(METAL_CHANGED, metal["id"])
        elif any(metal.get(field) != other.get(field) for field in ("clean_edges", "rough_edges")):
            yield Change(EDGES_CHANGED, metal["id"])
        elif metal.get("grain_deg") != other.get("grain_deg"):
            yield Change(GRAIN_CHANGED, metal["id"])


def _rules(before: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[Change]:
    for field, code in RULES.items():
        if before.get(field) != now.get(field):
            yield Change(code, "", before.get(field), now.get(field))
