"""Which way do students whose pieces lie on one stock piece come by their metal, and what does a
job say of it?

The course says, else the school; whatever neither says, or the room cannot do, goes by the room's
tools. What a way cannot be gone for is kept as a short word (`way_words`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

from inventory.models import StockPiece
from studio.models import CutPlan, Project
from studio.steps.bench.tools import RoomTools

from . import way_words as words
from .placing_settings import PlacingRules

Way = CutPlan.Way
WAYS: Final = (Way.PARTED, Way.SAWN, Way.PASSED)
"""Of several students, by what the school would rather: each has metal in own hands soonest."""


def way_for_several(
    rules: PlacingRules, tools: RoomTools, stock: Sequence[StockPiece], widest_mm: float
) -> str:
    """The way that a new plan of several students takes on this metal.

    `widest_mm` is the largest of the pieces' shorter sides.
    """
    wished = [Way(rules.sharing)] if rules.sharing else []
    for way in (*wished, Way.PARTED, Way.SAWN):
        if not why_not(way, tools, stock, widest_mm + 2.0 * float(rules.saw_margin_mm)):
            return way
    return Way.PASSED


def are_alone(projects: Iterable[Project]) -> bool:
    """Whether all of these, of one course, are one student's."""
    return len({project.seat_id for project in projects}) <= 1


def why_not(way: str, tools: RoomTools, stock: Sequence[StockPiece], strip_mm: float) -> str:
    """Why several students' metal cannot be parted this way here, as it is kept; empty where
    nothing speaks against it. Whether pieces find their places then, only a search can say.

    A frame that does not reach across may still saw a strip off along an edge: `strip_mm` is the
    width that the widest piece needs.
    """
    if way == Way.PARTED:
        if not tools.has_shear:
            return words.NO_SHEAR
        longest = tools.shear_cut_mm
        if longest is not None and stock and not any(_narrow(one) <= longest for one in stock):
            return words.SHORT_SHEAR
    if way == Way.SAWN and stock and strip_mm > tools.frame_depth_mm:
        across = 2.0 * tools.frame_depth_mm  # from either side
        if not any(_narrow(one) <= across for one in stock):
            return words.SHORT_FRAME
    return ""


def parting_fields(way: str, rules: PlacingRules, tools: RoomTools) -> dict[str, Any]:
    """What a job says of how its metal is parted; nothing where it is not."""
    if way == Way.PARTED:
        return {
            "parting": "shear",
            "parting_margin_mm": float(rules.shear_margin_mm),
            "strip_least_mm": float(rules.shear_strip_mm),
        } | ({} if tools.shear_cut_mm is None else {"cut_longest_mm": tools.shear_cut_mm})
    if way == Way.SAWN:
        return {
            "parting": "saw",
            "parting_margin_mm": float(rules.saw_margin_mm),
            "strip_least_mm": float(rules.saw_strip_mm),
            "throat_mm": tools.frame_depth_mm,
        }
    return {}


def way_of_job(job: dict[str, Any], projects: Iterable[Project]) -> str:
    """The way that a job written by anybody, with or without parting, is for."""
    if are_alone(projects):
        return Way.ALONE
    return {"shear": Way.PARTED, "saw": Way.SAWN}.get(job.get("parting", ""), Way.PASSED)


def _narrow(piece: StockPiece) -> float:
    """The narrower side of the upright box around it, in mm."""
    return float(min(piece.width_mm, piece.height_mm))
