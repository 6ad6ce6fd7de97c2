"""What both papers of a cut plan tell: whose pieces lie where, and each stock piece's facts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from django.utils.translation import gettext

from classroom.figures.units import Units
from inventory.models import StockPiece
from studio.core.cutting import Job, Plan
from studio.core.cutting.groups import group_of
from studio.core.drawing import Piece
from studio.core.picturing.parted.pictures import blank_alone
from studio.core.picturing.plan import labels_of, picture
from studio.core.picturing.sawing_order import sawing_orders
from studio.core.picturing.why import Why, why
from studio.models import CutPlan, PlanProject
from studio.prints.paper.pilots import pilot_size
from studio.queries.additions import shares_lying
from studio.queries.plans import stock_touched_by
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.plans.placing_settings import rules_for
from studio.steps.plans.quote import pieces_of
from studio.steps.sharing.turns import groups_in_turn

from .one_metal import OneMetal, one_metal


@dataclass(frozen=True, slots=True)
class Whose:
    """One project on the plan; a classmate's is only "another student's"."""

    letter: str
    name: str
    title: str
    count: int
    area_mm2: float
    own: bool
    share: PlanProject
    turn: int = 0  # in the order of sawing, where the metal is passed on

    @property
    def group(self) -> str:
        return group_of(self.share.project_id)


class PlanFacts:
    """A plan that is laid out, with the names that its reader may see.

    `own` are the projects' keys of a student who looks; None for a teacher, who sees all.
    """

    def __init__(
        self,
        plan: CutPlan,
        own: frozenset[int] | None,
        *,
        with_papers: bool = False,
        by_blank: bool = False,
    ) -> None:
        if plan.laid is None:
            raise ValueError(f"{plan} has not been placed yet")
        self.plan = plan
        self.own = own
        self.with_papers = with_papers
        self.by_blank = by_blank
        self.job: Job = plan.asked
        self.laid: Plan = plan.laid

    @cached_property
    def shares(self) -> list[PlanProject]:
        return list(
            shares_lying(self.plan)
            .select_related("project__brief", "project__seat__student", "pattern")
            .defer(
                "pattern__tracing",
                "pattern__findings_json",
                "pattern__relabels",
                "pattern__changes",
            )
        )

    @cached_property
    def stock(self) -> dict[str, StockPiece]:
        return {piece.code: piece for piece in stock_touched_by(self.plan)}

    @cached_property
    def turns(self) -> tuple[str, ...]:
        """The groups in the order in which they saw, where the metal is passed on."""
        return groups_in_turn(self.plan)

    @cached_property
    def metals(self) -> list[OneMetal]:
        """The stock pieces; with `by_blank` the blanks of a parted plan, each by itself, a
        student's own only."""
        if not (self.by_blank and self.laid.cuts):
            return self._drawn(self.job, self.laid)
        letters = labels_of(self.job)
        return [
            one
            for blank in self.laid.blanks
            if self.own is None or blank.group in self.mine
            for one in self._drawn(
                *blank_alone(self.job, self.laid, blank.metal, blank.part),
                letters[blank.group or ""],
            )
        ]

    @cached_property
    def _drawings(self) -> dict[str, Piece]:
        return pieces_of(self.shares)

    def _drawn(self, job: Job, laid: Plan, letter: str = "") -> list[OneMetal]:
        depth = frame_depth_mm(self.plan.course.school)
        rules = rules_for(self.plan.course.school, self.plan.course)
        sizes = {
            group_of(share.project_id): pilot_size(share.project.brief, self.plan.metal)
            for share in self.shares
        }
        turns = self.turns
        ordered = sawing_orders(
            job,
            laid.placements,
            self._drawings,
            depth,
            laid.offcuts,
            turns=turns,
            cuts=laid.cuts,
        )
        orders = {order.metal: order for order in ordered}
        return [
            one_metal(
                job,
                laid,
                shown,
                orders[shown.code],
                self._drawings,
                pilot_sizes=sizes,
                with_papers=self.with_papers,
                rim_mm=float(rules.rim_mm),
                units=Units(self.plan.course.school.units),
                letter=letter,
            )
            for shown in picture(job, laid, self._drawings, frame_depth_mm=depth, turns=turns)
        ]

    @cached_property
    def why(self) -> Why:
        """What speaks for the plan and what does not; to a student of own pieces only."""
        pictures = [one.picture for one in self.metals]
        return why(self.job, self.laid, pictures, groups=None if self.own is None else self.mine)

    @cached_property
    def whose(self) -> list[Whose]:
        """Every project on the plan, by letter."""
        letters = labels_of(self.job)
        counts: dict[str, int] = {}
        areas: dict[str, float] = {}
        for placed in self.laid.placements:
            wanted = self.job.wanted_by_id[placed.piece]
            group = wanted.group or ""
            counts[group] = counts.get(group, 0) + 1
            areas[group] = areas.get(group, 0.0) + wanted.outline.area
        turns = {group: number for number, group in enumerate(self.turns, start=1)}
        found = []
        for share in self.shares:
            group = group_of(share.project_id)
            if group not in letters:
                continue
            own = self.may_name(share.project_id)
            found.append(
                Whose(
                    letters[group],
                    str(share.project.student) if own else gettext("another student"),
                    (share.project.title or share.project.brief.title) if own else "",
                    counts.get(group, 0),
                    areas.get(group, 0.0),
                    own,
                    share,
                    turns.get(group, 0),
                )
            )
        return sorted(found, key=lambda one: (len(one.letter), one.letter))

    def may_name(self, project_pk: int) -> bool:
        return self.own is None or project_pk in self.own

    @property
    def mine(self) -> frozenset[str]:
        """Groups drawn as the looker's own: for a teacher none."""
        return frozenset() if self.own is None else frozenset(group_of(pk) for pk in self.own)

    @cached_property
    def lying(self) -> frozenset[str]:
        """Groups whose pieces lay on the metal before this plan's were added: drawn faint."""
        if self.plan.adds_to_id is None:
            return frozenset()
        return frozenset(
            group_of(share.project_id) for share in self.shares if share.plan_id != self.plan.pk
        )

    def on_metal(self, one: OneMetal) -> list[Whose]:
        """Those whose pieces lie on this stock piece."""
        groups = {mount.group for mount in one.mounts}
        return [whose for whose in self.whose if group_of(whose.share.project_id) in groups]
