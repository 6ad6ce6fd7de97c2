"""The pattern sheet: every paper of a pattern at true size, to be cut out and stuck on."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext

from classroom.figures import units
from classroom.figures.rounding import drill_size, short_mm
from classroom.models import School
from inventory import metals
from studio.core.picturing.plan import labels_of_pieces
from studio.core.picturing.sawing_order import sawing_orders
from studio.models import CutPlan, Pattern, PlanProject
from studio.prints.paper.pilots import pilot_size
from studio.prints.paper.plan_words import state_of
from studio.prints.paper.sizes import Printer, paper_for
from studio.steps.plans.asking import piece_id
from studio.steps.plans.placing_settings import rules_for

from .cutouts import Cutout, on_metal, placed_cutouts, plain_cutouts
from .laid_out import pattern_pages

TEMPLATE = "studio/prints/patterns/pattern_sheet.html"
MOST_NAMED = 5  # of the pieces on one paper, in its caption


def pattern_sheet_context(
    pattern: Pattern, *, school: School, printer: Printer | None = None
) -> dict[str, Any]:
    """What the template needs; `pattern` with its project, brief, course and student loaded."""
    paper = paper_for(school.paper, printer)
    plan = plan_of(pattern)
    cutouts = _cutouts(pattern, plan)
    words = [_words(one, school) for one in cutouts]
    pages = pattern_pages(cutouts, paper, words, units.Units(school.units))
    drawing = pattern.drawing
    return {
        "pattern": pattern,
        "project": pattern.project,
        "plan": plan,
        "plan_state": state_of(plan),
        "pages": pages,
        "paper_size": paper,
        "cutouts": cutouts,
        "sizes": _sizes(pattern, school),
        "warning": _warning(pattern),
        "metal": plan.metal if plan else pattern.project.metal,
        "stock_codes": sorted({one.metal for one in cutouts if one.metal}),
        "has_trims": any(not one.trims.is_empty for one in cutouts),
        "has_windows": drawing.window_count > 0,
        "has_marks": any(piece.drill_marks for piece in drawing.pieces),
        "has_pilots": any(mark.pilot for one in cutouts for mark in one.marks),
        "has_joined": any(one.is_joined for one in cutouts),
        "has_shared": any(not one.shared.is_empty for one in cutouts),
        "has_surface": any(piece.surface_lines for piece in drawing.pieces),
        "has_mirrored": any(one.mirrored for paper in cutouts for one in paper.pieces),
        "guests": [one for paper in cutouts for one in paper.pieces if one.guests],
        "paper_count": len(cutouts),
    }


def plan_of(pattern: Pattern) -> CutPlan | None:
    """The latest plan that has placed this very pattern and was not dropped."""
    share = (
        PlanProject.objects.filter(pattern=pattern, plan__answer__isnull=False, plan__rival_of=None)
        .exclude(plan__state__in=[CutPlan.State.DROPPED, CutPlan.State.PLACING])
        .select_related("plan__metal")
        .order_by("-plan__created_at", "-plan_id")
        .first()
    )
    return share.plan if share else None


def _cutouts(pattern: Pattern, plan: CutPlan | None) -> list[Cutout]:
    pieces = pattern.drawing.pieces
    metal = plan.metal if plan else pattern.project.metal
    brief = pattern.project.brief
    drill = pilot_size(brief, metal)
    rim_mm = float(rules_for(brief.course.school, brief.course).rim_mm)
    ids = {piece.id: piece_id(pattern, piece) for piece in pieces}
    if plan is None or plan.laid is None or not set(ids.values()) <= set(plan.asked.wanted_by_id):
        return plain_cutouts(pieces, pattern.copies, rim_mm=rim_mm, pilot_size=drill)
    job, placements = plan.asked, plan.laid.placements
    drawings = {ids[piece.id]: piece for piece in pieces}
    touched = {p.metal for p in placements if p.piece in drawings}
    laid = [p for p in placements if p.metal in touched]
    metals = [
        on_metal(
            job,
            order.metal,
            [p for p in laid if p.metal == order.metal],
            order.shared_cuts,
            order.holes,
            rim_mm=rim_mm,
        )
        for order in sawing_orders(job, laid, drawings)
    ]
    return placed_cutouts(
        pieces,
        pattern.copies,
        job,
        metals,
        ids,
        labels_of_pieces(job),
        rim_mm=rim_mm,
        pilot_size=drill,
    )


def _words(one: Cutout, school: School) -> tuple[str, str]:
    """The caption under a paper."""
    first = one.first
    width, height = (units.format_length(side, school.units) for side in one.size_mm)
    size = f"{width} × {height}"
    if one.is_joined:
        name = _names_of(one)
    else:
        name = gettext("Piece %(name)s") % {"name": first.piece}
        if first.label:
            name += " " + gettext("(%(label)s on the plan)") % {"label": first.label}
        if first.copies > 1:
            of = {"number": first.copy, "all": first.copies}
            name += ", " + gettext("%(number)s of %(all)s") % of
    if _all_mirrored(one):
        size += ", " + gettext("mirrored")
    if one.metal:
        size += " · " + gettext("on %(metal)s") % {"metal": one.metal}
    return name, size


def _names_of(one: Cutout) -> str:
    """What several pieces on one paper are called together."""
    count = len(one.pieces)
    if count > MOST_NAMED:
        return gettext("%(count)s pieces on one paper") % {"count": count}
    names = ", ".join(
        (piece.label or piece.piece)
        + (" (" + gettext("mirrored") + ")" if piece.mirrored and not _all_mirrored(one) else "")
        for piece in one.pieces
    )
    return gettext("%(names)s on one paper") % {"names": names}


def _all_mirrored(one: Cutout) -> bool:
    return all(piece.mirrored for piece in one.pieces)


def _sizes(pattern: Pattern, school: School) -> list[dict[str, Any]]:
    """A row for each piece: what to count before cutting."""
    rows = []
    for piece in pattern.drawing.pieces:
        drills: dict[float, int] = {}
        for mark in piece.drill_marks:
            size = drill_size(mark.diameter_mm)
            drills[size] = drills.get(size, 0) + 1
        width, height = piece.size_mm
        rows.append(
            {
                "id": piece.id,
                "width_mm": width,
                "height_mm": height,
                "windows": len(piece.outline.interiors),
                "drills": [
                    {"count": count, "diameter": _drill(size)}
                    for size, count in sorted(drills.items())
                ],
                "saw_mm": piece.saw_line_mm,
            }
        )
    return rows


def _drill(diameter_mm: float) -> str:
    """The diameter as drills are sold: always in millimetres, with the nearest number."""
    plain = short_mm(diameter_mm)
    nearest = metals.drill_nearest(diameter_mm)
    return f"{plain} mm (nearest {nearest.drill.name})" if nearest else f"{plain} mm"


def _warning(pattern: Pattern) -> str:
    """What stands in the way of sticking this on metal, if anything."""
    match pattern.state:
        case Pattern.State.DRAFT:
            return gettext("Draft: not handed in yet. Look at it, but do not stick it on metal.")
        case Pattern.State.HANDED_IN:
            return gettext("Waiting for the teacher's look. Do not stick it on metal yet.")
        case Pattern.State.RETURNED:
            return gettext(
                "Handed back by the teacher. Mend it and hand it in again before you print."
            )
        case Pattern.State.ASIDE:
            return gettext("Another version is current. Do not use this sheet.")
        case _:
            return ""
