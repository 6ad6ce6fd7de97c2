"""The cut plan on paper: what lies where, in which order it is sawn, and what it costs."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from classroom.models import School
from studio.core.sawing_order import Hole, LineKind, SawLine
from studio.models import CutPlan, Quote
from studio.steps.quote import SHARING_RULE

from .metal_art import MetalArt, OneMetal, metal_art
from .paper import Paper, paper_for
from .paths import Frame, num
from .plan_facts import PlanFacts, Whose

TEMPLATE = "studio/prints/cut_plan.html"
PICTURE_HEIGHT_MM = 128.0
EDGE_MM = 3.0  # on paper, for the heavy edge and the numbers at it


@dataclass(frozen=True, slots=True)
class Turn:
    """One row of the sawing table."""

    number: int
    label: str
    what: str
    length_mm: float
    note: str


@dataclass(frozen=True, slots=True)
class MetalPart:
    """One stock piece's part of the document."""

    one: OneMetal
    stock: Any
    whose: list[Whose]
    art: MetalArt
    width: str
    height: str
    scale_words: str
    holes: list[str]
    turns: list[Turn]
    bar: dict[str, Any]
    mass_g: float
    kerf_mm2: float


def cut_plan_context(
    plan: CutPlan, *, school: School, own: frozenset[int] | None = None
) -> dict[str, Any]:
    """What the template needs; `own` as in `PlanFacts`: prices of own projects only."""
    facts = PlanFacts(plan, own)
    measures = facts.answer.measures
    touched = measures.piece_area_mm2 + measures.kept_mm2 + measures.scrap_mm2
    quotes = _quotes(facts)
    return {
        "plan": plan,
        "parts": [metal_part(facts, one, paper_for(school.paper)) for one in facts.metals],
        "whose": facts.whose,
        "measures": measures,
        "touched_mm2": touched,
        "rows": [
            ("Metal touched", touched, plan.metal.mass_g(touched)),
            ("Pieces", measures.piece_area_mm2, plan.metal.mass_g(measures.piece_area_mm2)),
            ("Offcuts back to the rack", measures.kept_mm2, plan.metal.mass_g(measures.kept_mm2)),
            (
                "Saw cuts and scrap",
                measures.scrap_mm2,
                plan.metal.mass_g(measures.scrap_mm2),
            ),
        ],
        "used_share": measures.piece_area_mm2 / measures.consumed_mm2
        if measures.consumed_mm2
        else None,
        "quotes": quotes,
        "quotes_total": sum((one["quote"].total for one in quotes), Decimal(0)),
        "sharing_rule": SHARING_RULE,
        "is_teacher": own is None,
        "unplaced": len(facts.answer.unplaced),
        "kerf_mm": facts.job.kerf_mm,
        "warning": _warning(plan, facts),
    }


def metal_part(facts: PlanFacts, one: OneMetal, paper: Paper) -> MetalPart:
    width, height = one.size_mm
    room, _ = paper.content_mm
    scale = min(1.0, (room - 2 * EDGE_MM) / width, PICTURE_HEIGHT_MM / height)
    x0, _, _, y1 = one.outline.bounds
    frame = Frame(x0, y1, EDGE_MM, EDGE_MM, scale)
    stock = facts.stock.get(one.code)
    return MetalPart(
        one,
        stock,
        facts.on_metal(one),
        metal_art(one, frame, mine=facts.mine, with_order=True),
        num(width * scale + 2 * EDGE_MM),
        num(height * scale + 2 * EDGE_MM),
        "true size" if scale == 1.0 else f"{100 * scale:.0f} % of true size",
        _holes(one.order.holes),
        _turns(one),
        _bar(one),
        stock.mass_g if stock else 0.0,
        max(0.0, one.picture.scrap_mm2),
    )


def _holes(holes: tuple[Hole, ...]) -> list[str]:
    """How many of which diameter, pilots apart."""
    counted = Counter(
        (hole.pilot, None if hole.diameter_mm is None else round(hole.diameter_mm, 2))
        for hole in holes
    )
    words = []
    for (pilot, size), count in sorted(counted.items(), key=lambda row: (row[0][0], row[0][1] or 0)):
        shown = "" if size is None else f" of {f'{size:.2f}'.rstrip('0').rstrip('.')} mm"
        kind = "pilot hole" if pilot else "hole"
        words.append(f"{count} {kind}{'' if count == 1 else 's'}{shown}")
    return words


def _turns(one: OneMetal) -> list[Turn]:
    labels = {(m.placement.piece, m.placement.copy): m.label for m in one.mounts}
    return [
        Turn(
            line.number,
            labels[line.piece, line.copy],
            "window" if line.kind is LineKind.WINDOW else "outline",
            line.length_mm,
            _note(line),
        )
        for line in one.order.lines
    ]


def _note(line: SawLine) -> str:
    notes = []
    if line.kind is LineKind.WINDOW:
        notes.append("thread the blade through the pilot hole")
    if not line.free.is_empty:
        notes.append(f"{line.free.length:.0f} mm on the metal's edge: no sawing")
    saved = line.ring.length - line.free.length - line.length_mm
    if saved > 0.5:
        notes.append(f"{saved:.0f} mm sawn already with a neighbour")
    elif not line.shared.is_empty:
        notes.append(f"{line.shared.length:.0f} mm shared: saw between the two lines")
    if line.out_of_reach:
        notes.append("deeper than the saw frame reaches")
    return "; ".join(notes)


def _bar(one: OneMetal) -> dict[str, Any]:
    """The stock piece as one bar of pieces, offcuts, scrap with the saw's dust."""
    shown = one.picture
    areas = (("piece", shown.piece_mm2), ("offcut", shown.kept_mm2), ("scrap", shown.scrap_mm2))
    whole = sum(area for _, area in areas) or 1.0
    parts, start, words = [], 0.0, []
    for kind, area in areas:
        share = 100.0 * area / whole
        parts.append({"kind": kind, "start": round(start, 2), "width": round(share, 2)})
        words.append(f"{kind} {share:.0f} %")
        start += share
    value = f"{100 * shown.piece_mm2 / whole:.0f} % pieces"
    return {"label": one.code, "url": "", "value": value, "text": ", ".join(words), "parts": parts}


def _quotes(facts: PlanFacts) -> list[dict[str, Any]]:
    """Quotes that the reader may see: as used once the plan is closed, else as planned."""
    found: dict[int, Quote] = {}
    for quote in facts.plan.quotes.prefetch_related("lines").order_by("kind"):
        known = found.get(quote.project_id)
        if known is None or quote.kind == Quote.Kind.SETTLED:
            found[quote.project_id] = quote
    return [
        {"whose": whose, "quote": found[whose.share.project_id]}
        for whose in facts.whose
        if whose.own and whose.share.project_id in found
    ]


def _warning(plan: CutPlan, facts: PlanFacts) -> str:
    if facts.answer.unplaced:
        count = len(facts.answer.unplaced)
        pieces = "1 piece has" if count == 1 else f"{count} pieces have"
        return f"{pieces} found no place. This plan cannot be approved as it is."
    match plan.state:
        case CutPlan.State.PROPOSED | CutPlan.State.PLACING:
            return "Proposed only: not approved yet."
        case CutPlan.State.DROPPED:
            return "This plan was dropped. Do not work by it."
        case _:
            return ""
