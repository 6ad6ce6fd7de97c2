"""Which students' layouts does a new plan take as they are, and why not the others?

Whole projects only, in the order of handing in. What is taken becomes `fixed` of the plan's job;
everything else the server lays round it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from classroom.models import School
from classroom.refusals import Refused
from inventory.models import StockPiece
from inventory.queries import stock_labelled
from studio.core.cutting import Job, Placement
from studio.core.cutting.by_hand import placement_to_json
from studio.core.laying_out.cuts_between import cuts_between
from studio.core.laying_out.metal import Rectangle, cut_to
from studio.core.verifying import faults
from studio.core.verifying.faults import faults_of
from studio.core.verifying.kept import Kept
from studio.models import Brief, Layout, Pattern, PlanProject, Project
from studio.queries.layouts import layouts_that_count

from . import layout_words as words
from .asking import as_metal, make_job, piece_id, usable

LaidBy = Brief.LaidBy
RECTANGLES: Final = "rectangles"
"""In `Layout.figures`: the rectangle of each stock piece (by code) that is not used whole."""


@dataclass(frozen=True, slots=True)
class Taken:
    """Of each project (by pk) the layout that is taken, or in `told` why it is not."""

    layouts: Mapping[int, Layout] = field(default_factory=dict)
    told: Mapping[int, str] = field(default_factory=dict)
    placements: tuple[Placement, ...] = ()
    stock: tuple[StockPiece, ...] = ()

    @property
    def fixed(self) -> list[dict[str, Any]]:
        """The placements as a job writes them."""
        return [placement_to_json(p) for p in self.placements]


def taken_layouts(
    patterns: Sequence[Pattern],
    school: School,
    *,
    way: str,
    server_lays: bool,
    even_standing: bool = False,
) -> Taken:
    """The layouts that a plan of these approved patterns takes, judged by the plan's own rules.

    Where its `way` parts the metal, no two of them may lie so that no cut goes between.

    With `server_lays` none is taken; raises Refused where a brief says that a student's layout
    stands, unless `even_standing`.
    """
    by_project = {
        pattern.project_id: pattern
        for pattern in patterns
        if pattern.project.brief.laid_by != LaidBy.SERVER
    }
    wished = list(layouts_that_count(pattern.project for pattern in by_project.values()))
    if server_lays:
        if not even_standing:
            _none_stands(wished, by_project)
        return Taken(told={one.project_id: words.SERVER for one in wished if one.project_id})
    return _taken(wished, by_project, patterns, school, way)


def _none_stands(wished: Sequence[Layout], by_project: Mapping[int, Pattern]) -> None:
    for one in wished:
        project = by_project[one.project_id or 0].project
        if project.brief.laid_by == LaidBy.STANDS:
            raise Refused(
                f"By its brief the layout of {project} stands. Tick also “even layouts that "
                "stand by their brief” to set it aside."
            )


def _taken(
    wished: Sequence[Layout],
    by_project: Mapping[int, Pattern],
    patterns: Sequence[Pattern],
    school: School,
    way: str,
) -> Taken:
    codes = {p.metal for one in wished for p in one.laid}
    rack = {piece.code: piece for piece in stock_labelled(school.pk, sorted(codes))}
    told: dict[int, str] = {}
    asked: list[tuple[Layout, Pattern]] = []
    for one in wished:
        pattern = by_project[one.project_id or 0]
        why = _no_longer_there(one, pattern, rack)
        if why:
            told[pattern.project_id] = why
        else:
            asked.append((one, pattern))
    if not asked:
        return Taken(told=told)
    touched = sorted({p.metal for one, _ in asked for p in one.laid})
    job = make_job(patterns, [rack[code] for code in touched], school, way=way)
    taken = _in_turn(usable(job), asked)
    stock = tuple(rack[code] for code in sorted({p.metal for p in taken.placements}))
    return replace(taken, told={**told, **taken.told}, stock=stock)


def layouts_wished(shares: Sequence[PlanProject]) -> list[Layout]:
    """Layouts that a plan of these shares (with layout) has taken, or has left as no cut ran
    between them, or as a teacher laid it out: by another plan for the same pieces they may hold."""
    taken = [share.layout for share in shares if share.layout is not None]
    left = [
        share.project_id
        for share in shares
        if words.reason_of(share.layout_told) in (words.NO_CUT, words.BY_HAND)
    ]
    return [*taken, *(layouts_that_count(Project.objects.filter(pk__in=left)) if left else ())]


def retaken(job: dict[str, Any], shares: Sequence[PlanProject]) -> Taken:
    """Of the plan of these shares (with layout and pattern) the layouts that hold under another
    job for the same pieces."""
    judge = usable(job)
    by_project = {share.project_id: share.pattern for share in shares}
    asked = [
        (one, by_project[one.project_id])
        for one in layouts_wished(shares)
        if one.project_id in by_project
        and one.pattern_id == by_project[one.project_id].pk
        and all(p.metal in judge.stock_by_id for p in one.laid)
    ]
    return _in_turn(judge, asked)


def _in_turn(job: Job, asked: Sequence[tuple[Layout, Pattern]]) -> Taken:
    """Each that has no fault beside those before it, and that a cut keeps apart from them where
    the job's metal is parted."""
    judge = replace(job, parting=None, fixed=())
    layouts: dict[int, Layout] = {}
    told: dict[int, str] = {}
    kept = Kept()
    placements: tuple[Placement, ...] = ()
    for one, pattern in asked:
        why = _against_the_rules(judge, kept, placements, one, pattern)
        if not why and job.parting is not None:
            why = _not_parted(job, placements, one)
        if why:
            told[pattern.project_id] = why
        else:
            layouts[pattern.project_id] = one
            placements = (*placements, *one.laid)
    return Taken(layouts, told, placements)


def _not_parted(job: Job, before: Sequence[Placement], layout: Layout) -> str:
    """Where no cut keeps this layout apart from those before it; empty where cuts do."""
    for code in sorted({p.metal for p in layout.laid}):
        there = [p for p in (*before, *layout.laid) if p.metal == code]
        cuts = cuts_between(job, there)
        if cuts is None or faults(job, there, cuts):
            return words.told(words.NO_CUT, code)
    return ""


def _no_longer_there(layout: Layout, pattern: Pattern, rack: Mapping[str, StockPiece]) -> str:
    """What of this layout's pieces and metal is not as it was; empty where all is."""
    if layout.pattern_id != pattern.pk:
        return words.told(words.VERSION)
    wanted = {
        (piece_id(pattern, piece), copy)
        for piece in pattern.drawing.pieces
        for copy in range(pattern.copies)
    }
    if {(p.piece, p.copy) for p in layout.laid} != wanted:
        return words.told(words.MISSING)
    offered = {metal["id"]: metal for metal in layout.job["metal"]}
    rectangles = rectangles_of(layout)
    for code in sorted({p.metal for p in layout.laid}):
        piece = rack.get(code)
        if piece is None or piece.state != StockPiece.State.RACK:
            return words.told(words.GONE, code)
        if piece.metal_id != pattern.project.metal_id:
            return words.told(words.METAL)
        if not is_as_laid_on(offered[code], piece, rectangles.get(code)):
            return words.told(words.CHANGED, code)
    return ""


def is_as_laid_on(
    offered: Mapping[str, Any], piece: StockPiece, rectangle: Rectangle | None
) -> bool:
    """Whether a stock piece, or the rectangle of it that is laid on, is what was offered.

    As text: it is written now as it was written then, so a record that nobody touched is the same
    to the last sign.
    """
    now: Mapping[str, Any] | None = as_metal(piece, 0.0)
    if rectangle is not None and now is not None:
        now = cut_to(now, rectangle)
    names = ("outline", "clean_edges", "rough_edges")
    return now is not None and all(offered.get(name) == now.get(name) for name in names)


def rectangles_of(layout: Layout) -> dict[str, Rectangle]:
    """Of each stock piece (by code) that is not laid on whole, the rectangle of it."""
    kept = layout.figures.get(RECTANGLES, {})
    return {code: (x0, y0, x1, y1) for code, (x0, y0, x1, y1) in kept.items()}


def _against_the_rules(
    judge: Job, kept: Kept, before: Sequence[Placement], layout: Layout, pattern: Pattern
) -> str:
    """The first fault of this layout beside those that are taken; empty where there is none."""
    kept.next_answer()
    found = faults_of(judge, (*before, *layout.laid), kept)
    if not found:
        return ""
    own = f"{pattern.pk}/"
    metals = {(p.piece, p.copy): p.metal for p in layout.laid}
    for fault in found:
        mine = (fault.piece, fault.copy) in metals
        other = fault.other is not None and not fault.other.startswith(own)
        key = (fault.piece, fault.copy) if mine else (fault.other or "", fault.other_copy or 0)
        if other or not mine:
            return words.told(words.NEAR, metals.get(key, ""))
    first = found[0]
    return words.told(words.RULES, metals[first.piece, first.copy])
