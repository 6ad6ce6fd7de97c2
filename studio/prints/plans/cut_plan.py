"""The cut plan on paper: what lies where, in which order it is sawn, and what it costs."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext, gettext_noop, ngettext

from classroom.figures import units
from classroom.figures.rounding import drill_size, percent_of, short_mm
from classroom.models import School
from inventory import metals
from studio.core.picturing.sawing_order import LineKind, SawLine
from studio.models import CutPlan, Quote
from studio.prints.paper.paths import Frame, num
from studio.prints.paper.plan_words import state_of
from studio.prints.paper.sizes import Paper, paper_for
from studio.steps.plans.quote import course_share, words_of_rule

from .facts import PlanFacts, Whose
from .metal_art import MetalArt, metal_art
from .one_metal import OneMetal

TEMPLATE = "studio/prints/plans/cut_plan.html"
KINDS = {
    Quote.Kind.PLANNED: gettext_noop("as planned"),
    Quote.Kind.SETTLED: gettext_noop("as used"),
}
PICTURE_HEIGHT_MM = 76.0
SMALL_WIDTH_MM = 48.0  # of the whole stock piece beside the larger picture of a region
VIEWS_GAP_MM = 6.0 + 4 * 3.0
AROUND_MM = 7.0
PAGE_HEIGHT_MM = 190.0  # where the pieces would be too small otherwise: a page of its own
READABLE = 0.6  # of true size: numbers and pieces can be told apart
LARGER = 1.3  # a second picture is worth its room from here
LARGE_ENOUGH = 0.75  # of true size: numbers find room
EDGE_MM = 3.0  # on paper, for the heavy edge and the numbers at it
SAME_DRILL_MM = 0.01  # drill marks are told to a hundredth


@dataclass(frozen=True, slots=True)
class Turn:
    """One row of the sawing table."""

    number: int
    label: str
    what: str
    length_mm: float
    note: str


@dataclass(frozen=True, slots=True)
class View:
    """One picture: of the whole stock piece, or of the region where the pieces lie."""

    title: str
    art: MetalArt
    width: str
    height: str
    window: tuple[str, str, str, str] | None = None  # on the whole: what the other picture shows


@dataclass(frozen=True, slots=True)
class MetalPart:
    """One stock piece's part of the document."""

    one: OneMetal
    stock: Any
    whose: list[Whose]
    views: tuple[View, ...]
    scale_words: str
    holes: list[str]
    turns: list[Turn]
    mass_g: float

    @property
    def keeps_whole(self) -> bool:
        """Whether a picture frames the rectangle that stays whole."""
        return any(view.art.kept for view in self.views)


def cut_plan_context(
    plan: CutPlan, *, school: School, own: frozenset[int] | None = None
) -> dict[str, Any]:
    """What the template needs; `own` as in `PlanFacts`: prices of own projects only."""
    facts = PlanFacts(plan, own)
    measures = facts.laid.measures
    touched = measures.piece_area_mm2 + measures.kept_mm2 + measures.scrap_mm2
    quotes = _quotes(facts)
    return {
        "plan": plan,
        "parts": [metal_part(facts, one, paper_for(school.paper)) for one in facts.metals],
        "whose": facts.whose,
        "shared": len(facts.whose) > 1,
        "turns": facts.turns,
        "why": facts.why,
        "measures": measures,
        "touched_mm2": touched,
        "rows": [
            ("issued", gettext("Metal touched"), touched, plan.metal.mass_g(touched)),
            (
                "pieces",
                gettext("Pieces"),
                measures.piece_area_mm2,
                plan.metal.mass_g(measures.piece_area_mm2),
            ),
            (
                "kept",
                gettext("Offcuts back to the rack"),
                measures.kept_mm2,
                plan.metal.mass_g(measures.kept_mm2),
            ),
            (
                "waste",
                gettext("Waste (kerf and scrap)"),
                measures.scrap_mm2,
                plan.metal.mass_g(measures.scrap_mm2),
            ),
        ],
        "quotes": quotes,
        "quotes_total": sum((one["quote"].total for one in quotes), Decimal(0)),
        "course_share": course_share([one["quote"] for one in quotes]),
        "sharing_rule": gettext(words_of_rule(plan)),
        "is_teacher": own is None,
        "unplaced": len(facts.laid.unplaced),
        "kerf_mm": facts.job.kerf_mm,
        "state": state_of(plan),
        "saved": _saved(facts, school),
        "warning": _warning(plan, facts),
    }


def _saved(facts: PlanFacts, school: School) -> str:
    """What shared lines and free edges spare the saw, in words."""
    measures = facts.laid.measures
    parts = (
        (
            sum(one.picture.for_two_mm for one in facts.metals),
            gettext("%(length)s by shared lines"),
        ),
        (measures.free_edge_mm, gettext("%(length)s on free edges")),
    )
    words = [
        what % {"length": units.format_length(length, school.units)}
        for length, what in parts
        if length >= 1.0
    ]
    return ", ".join(words)


def metal_part(facts: PlanFacts, one: OneMetal, paper: Paper) -> MetalPart:
    stock = facts.stock.get(one.code)
    views, words = _views(facts, one, paper)
    return MetalPart(
        one,
        stock,
        facts.on_metal(one),
        views,
        words,
        _holes(one),
        _turns(one),
        stock.mass_g if stock else 0.0,
    )


def _views(facts: PlanFacts, one: OneMetal, paper: Paper) -> tuple[tuple[View, ...], str]:
    """The whole stock piece with the order of sawing; where the pieces would be too small for
    numbers, the whole without them and beside it the region in which they lie, larger."""
    width, height = one.size_mm
    x0, _, _, y1 = one.outline.bounds
    room = paper.content_mm[0] - 2 * EDGE_MM
    near = _region(one)
    near_width, near_height = near[2] - near[0], near[3] - near[1]
    for tall in (PICTURE_HEIGHT_MM, PAGE_HEIGHT_MM):
        scale = min(1.0, room / width, tall / height)
        small = min(1.0, SMALL_WIDTH_MM / width, PICTURE_HEIGHT_MM / height)
        beside = room - width * small - VIEWS_GAP_MM
        large = min(2.0, beside / near_width, tall / near_height)
        if max(scale, large) >= READABLE:
            break
    count = len(one.mounts)
    named = {"code": one.code}
    pieces = ngettext("%(count)s piece", "%(count)s pieces", count) % {"count": count}
    whole_of = gettext("Stock piece %(code)s with %(pieces)s") % (named | {"pieces": pieces})
    if scale >= LARGE_ENOUGH or large < LARGER * scale:
        frame = Frame(x0, y1, EDGE_MM, EDGE_MM, scale)
        whole = View(
            f"{whole_of}; {gettext('order of sawing')}, {_percent(scale)}",
            metal_art(
                one, frame, mine=facts.mine, lying=facts.lying, with_order=True, why=facts.why
            ),
            num(width * scale + 2 * EDGE_MM),
            num(height * scale + 2 * EDGE_MM),
        )
        return (whole,), gettext("At %(scale)s") % {"scale": _percent(scale)}
    overview = View(
        f"{whole_of}, {_percent(small)}; {gettext('the dashed frame is drawn larger beside it')}",
        metal_art(
            one,
            Frame(x0, y1, EDGE_MM, EDGE_MM, small),
            mine=facts.mine,
            lying=facts.lying,
            with_labels=False,
            why=facts.why.only("keeps"),
        ),
        num(width * small + 2 * EDGE_MM),
        num(height * small + 2 * EDGE_MM),
        (
            num((near[0] - x0) * small + EDGE_MM),
            num((y1 - near[3]) * small + EDGE_MM),
            num(near_width * small),
            num(near_height * small),
        ),
    )
    detail = View(
        gettext("Where the pieces lie on %(code)s, with the order of sawing, %(scale)s")
        % (named | {"scale": _percent(large)}),
        metal_art(
            one,
            Frame(near[0], near[3], EDGE_MM, EDGE_MM, large),
            mine=facts.mine,
            lying=facts.lying,
            with_order=True,
            with_offcuts=False,
            why=facts.why.without("keeps"),
        ),
        num(near_width * large + 2 * EDGE_MM),
        num(near_height * large + 2 * EDGE_MM),
    )
    scales = {"small": _percent(small), "large": _percent(large)}
    return (overview, detail), gettext("Whole at %(small)s, beside it at %(large)s") % scales


def _region(one: OneMetal) -> tuple[float, float, float, float]:
    """The box around the pieces with a little metal, within the stock piece's own box."""
    boxes = [mount.outline.bounds for mount in one.mounts]
    x0, y0, x1, y1 = one.outline.bounds
    return (
        max(x0, min(b[0] for b in boxes) - AROUND_MM),
        max(y0, min(b[1] for b in boxes) - AROUND_MM),
        min(x1, max(b[2] for b in boxes) + AROUND_MM),
        min(y1, max(b[3] for b in boxes) + AROUND_MM),
    )


def _percent(scale: float) -> str:
    if scale == 1.0:
        return gettext("true size")
    return gettext("%(percent)s %% of true size") % {"percent": percent_of(scale)}


def _holes(one: OneMetal) -> list[str]:
    """How many of which diameter, pilots apart."""
    counted = Counter(
        (hole.pilot, None if drilled.diameter_mm is None else drill_size(drilled.diameter_mm))
        for hole, drilled in zip(one.order.holes, one.holes, strict=True)
    )
    words = []
    for (pilot, size), count in sorted(
        counted.items(), key=lambda row: (row[0][0], row[0][1] or 0)
    ):
        if pilot:
            text = ngettext("%(count)s pilot hole", "%(count)s pilot holes", count)
        else:
            text = ngettext("%(count)s hole", "%(count)s holes", count)
        said = text % {"count": count}
        if size is not None:
            said += " " + (_of_drill(size, one.units) if pilot else _of_size(size, one.units))
        words.append(said)
    return words


def _of_drill(drill_mm: float, unit: units.Units) -> str:
    """A pilot drill by the name on its shank, as the lists of drills have it, where it has one."""
    nearest = metals.drill_nearest(drill_mm).drill
    if abs(nearest.diameter_mm - drill_mm) > SAME_DRILL_MM or not nearest.name.startswith("#"):
        return _of_size(drill_mm, unit)
    in_mm = unit is units.Units.MM
    size = f"{short_mm(drill_mm)} mm" if in_mm else units.format_thickness(drill_mm, unit)
    return gettext("of %(size)s") % {"size": f"{nearest.name} ({size})"}


def _of_size(drill_mm: float, unit: units.Units) -> str:
    if unit is units.Units.MM:
        return gettext("of %(mm)s mm") % {"mm": short_mm(drill_mm)}
    return gettext("of %(size)s") % {"size": units.format_thickness(drill_mm, unit)}


def _turns(one: OneMetal) -> list[Turn]:
    labels = {(m.placement.piece, m.placement.copy): m.label for m in one.mounts}
    return [
        Turn(
            line.number,
            labels[line.piece, line.copy],
            gettext("window") if line.kind is LineKind.WINDOW else gettext("outline"),
            line.length_mm,
            _note(line, one.units),
        )
        for line in one.order.lines
    ]


def _note(line: SawLine, unit: units.Units) -> str:
    notes = []
    if line.kind is LineKind.WINDOW:
        notes.append(gettext("thread the blade through the pilot hole"))
    if not line.free.is_empty:
        free = {"length": units.format_length(line.free.length, unit)}
        notes.append(gettext("%(length)s on the metal's edge: no sawing") % free)
    if line.already_mm > 0.5:
        notes.append(
            gettext("%(length)s sawn already with a neighbour")
            % {"length": units.format_length(line.already_mm, unit)}
        )
    elif not line.shared.is_empty:
        shared = {"length": units.format_length(line.shared.length, unit)}
        notes.append(gettext("%(length)s shared: saw between the two lines") % shared)
    if line.out_of_reach:
        notes.append(gettext("deeper than the saw frame reaches"))
    return "; ".join(notes)


def _quotes(facts: PlanFacts) -> list[dict[str, Any]]:
    """Quotes that the reader may see: as used once the plan is closed, else as planned."""
    found: dict[int, Quote] = {}
    for quote in facts.plan.quotes.prefetch_related("lines").order_by("kind"):
        known = found.get(quote.project_id)
        if known is None or quote.kind == Quote.Kind.SETTLED:
            found[quote.project_id] = quote
    return [
        {
            "whose": whose,
            "quote": found[whose.share.project_id],
            "kind": gettext(KINDS[Quote.Kind(found[whose.share.project_id].kind)]),
        }
        for whose in facts.whose
        if whose.own and whose.share.project_id in found
    ]


def _warning(plan: CutPlan, facts: PlanFacts) -> str:
    if facts.laid.unplaced:
        count = len(facts.laid.unplaced)
        text = ngettext(
            "%(count)s piece has found no place. This plan cannot be approved as it is.",
            "%(count)s pieces have found no place. This plan cannot be approved as it is.",
            count,
        )
        return text % {"count": count}
    match plan.state:
        case CutPlan.State.PROPOSED | CutPlan.State.PLACING:
            return gettext("Proposed only: not approved yet.")
        case CutPlan.State.DROPPED:
            return gettext("This plan was dropped. Do not work by it.")
        case CutPlan.State.PARTED:
            return gettext("This metal is parted. Work by each student's own plan.")
        case _:
            return ""
