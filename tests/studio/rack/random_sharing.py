"""Random days on which students share metal: sheets are parted, blanks measured, spoilt, brought
back; metal is passed on and somebody left out; pieces are added to metal in use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from unittest.mock import patch

from shapely.geometry import Point

from classroom.models import Seat
from classroom.refusals import Refused
from inventory.buying import receiving
from inventory.buying.sheet_line import SheetLine
from inventory.models import StockPiece
from studio.core.cutting import Cut, Job, Parting, Placement, Plan, job_from_json, plan_to_json
from studio.core.cutting.formats import job_to_json
from studio.core.offcuts.rack_offcuts import with_rack_offcuts
from studio.core.verifying import blanks_of, faults, measure
from studio.models import CutPlan, PlanProject, Project, StockStep
from studio.steps.plans.adding import add_to
from studio.steps.plans.asking import make_job
from studio.steps.plans.propose import propose_answer
from studio.steps.plans.quote import make_quotes
from studio.steps.rack.give_back import at_the_bench, close_plan
from studio.steps.sharing.parting.measuring import PartOut
from studio.steps.sharing.parting.part import sign_parted, start_parting
from studio.steps.sharing.parting.planned_parts import planned_parts
from studio.steps.sharing.sticking import leave_out
from tests.studio.bench.making import World
from tests.studio.rack.random_days import RandomDays

Way = CutPlan.Way
SHEAR = Parting("shear", margin_mm=1.0, strip_least_mm=15.0)
SAW = Parting("saw", margin_mm=2.0, strip_least_mm=5.0)


class SharingDays(RandomDays):
    """The same school with two students who have metal together."""

    def __init__(self, world: World, seed: int) -> None:
        super().__init__(world, seed)
        self.deeds = [
            (6, self.receive),
            (2, self.policy),
            (2, self.allot),
            (3, self.offcut),
            (2, self.correct),
            (16, self.share_parted),
            (6, self.share_passed),
            (4, self.propose),
            (12, self.approve),
            (1, self.drop),
            (10, self.issue),
            (14, self.part),
            (6, self.add),
            (8, self.leave_out),
            (9, self.close),
        ]

    def receive(self) -> None:
        """Sheets that hold several blanks."""
        width = Decimal(self.random.randrange(9000, 18000)) / 100
        line = SheetLine(self.world.metal, 2, width, Decimal(80), self.money(9000))
        receiving.receive_purchase(
            self.school, [line], acting=self.teacher, bought_on=self.other.starts_on
        )

    def seats(self) -> list[Seat]:
        return [self.world.cast.seat, self.world.cast.classmate_seat]

    def project_of(self, seat: Seat) -> Project:
        self.world.cast.seat, kept = seat, self.world.cast.seat
        try:
            return self.project()
        finally:
            self.world.cast.seat = kept

    def share_parted(self) -> None:
        """Two or three projects, one or two of them the same student's, on a sheet that upright
        cuts part; what is right of the last cut is left over, if anything."""
        sheet = self.any_piece(state="rack", kind="sheet")
        seats = [*self.seats(), self.random.choice(self.seats())][: self.random.randint(2, 3)]
        projects = [self.project_of(seat) for seat in seats]
        parting = self.random.choice([SHEAR, SAW])
        job = replace(self.job(projects, sheet), parting=parting)
        cuts, x, part = [], 0.0, 0
        number = len(projects) - self.random.randint(0, 1)
        for n in range(number):
            x += self.random.uniform(36, 55)
            cuts.append(Cut(sheet.code, part, (x, 0.0), (x, float(sheet.height_mm))))
            part = 2 * n + 2
        edges = [0.0, *(cut.start[0] for cut in cuts), float(sheet.width_mm)]
        laid = self.lay(job, sheet, cuts, edges)
        way = Way.PARTED if parting is SHEAR else Way.SAWN
        self.store(job, laid, cuts, projects, way)

    def share_passed(self) -> None:
        piece = self.any_piece(state="rack")
        projects = [self.project_of(seat) for seat in self.seats()]
        job = self.job(projects, piece)
        edges = [0.0, *([float(piece.width_mm)] * len(projects))]
        laid = self.lay(job, piece, [], edges)
        self.store(job, laid, [], projects, Way.PASSED)

    def job(self, projects: Sequence[Project], piece: StockPiece) -> Job:
        patterns = [one.patterns.select_related("project__brief").get() for one in projects]
        return job_from_json(make_job(patterns, [piece], self.school))

    def lay(
        self, job: Job, piece: StockPiece, cuts: Sequence[Cut], edges: Sequence[float]
    ) -> list[Placement]:
        """Each order between its two edges, where the judge finds no fault."""
        laid: list[Placement] = list(job.fixed)
        standing = {(one.piece, one.copy) for one in laid}
        orders = [one for one in job.pieces if (one.id, 0) not in standing]
        for n, order in enumerate(orders):
            left, right = (edges[n], edges[n + 1]) if cuts else (0.0, float(piece.width_mm))
            for _ in range(25):
                spot = Point(
                    self.random.uniform(left, right),
                    self.random.uniform(0, float(piece.height_mm)),
                )
                one = Placement(order.id, 0, piece.code, False, 0.0, spot.x, spot.y)
                if not faults(job, [*laid, one], cuts):
                    laid.append(one)
                    break
            else:
                raise Refused("no room")
        return laid

    def store(
        self,
        job: Job,
        laid: Sequence[Placement],
        cuts: Sequence[Cut],
        projects: Sequence[Project],
        way: str,
    ) -> None:
        measures, offcuts = measure(job, laid, cuts)
        answer = Plan(tuple(laid), (), measures, offcuts, 1, 0.1, 1, by_hand=True)
        if job.parting is not None:
            answer = replace(answer, cuts=tuple(cuts), blanks=blanks_of(job, laid, cuts))
        plan = CutPlan.objects.create(
            course=self.world.cast.course,
            metal=self.world.metal,
            state=CutPlan.State.PROPOSED,
            way=way,
            job=job_to_json(job),
            answer=plan_to_json(with_rack_offcuts(job, answer)),
            created_by=self.teacher,
        )
        for project in projects:
            PlanProject.objects.create(plan=plan, project=project, pattern=project.patterns.get())
        make_quotes(plan)

    def part(self) -> None:
        """A sheet is parted: mostly as planned; some parts come out smaller, some are spoilt."""
        pks = StockStep.objects.filter(kind="part", done_at=None).values_list("pk", flat=True)
        if not pks:
            raise Refused("nothing there")
        step = StockStep.objects.select_related("plan_stock__plan", "plan_stock__stock_piece").get(
            pk=self.random.choice(list(pks))
        )
        row = step.plan_stock
        said = {}
        for part in planned_parts(row.plan, row.stock_piece.code):
            width, height = part.size_mm
            chance = self.random.random()
            if chance < 0.15 and part.is_blank:
                said[part.number] = PartOut(is_lost=True, cause="the shear slipped")
            elif chance < 0.4 and part.can_be_measured:
                less = self.random.choice([0.1, 0.3, 1.0])
                said[part.number] = PartOut(
                    Decimal(f"{width - less:.2f}"), Decimal(f"{height:.2f}"), "cut askew"
                )
        start_parting(step, acting=self.teacher)
        sign_parted(step, acting=self.teacher, measured=said)

    def add(self) -> None:
        """One more piece on metal that one student has at the bench."""
        base = self.any_plan("issued")
        share = base.shares.filter(live=True).select_related("project__seat").first()
        if share is None:
            raise Refused("nobody there")
        more = self.project_of(share.project.seat)
        with patch("studio.steps.plans.adding.place_plan"):
            added = add_to(base, more, acting=self.teacher)
        job = added.asked
        metal = self.random.choice(job.metal)
        piece = StockPiece.objects.get(code=metal.id)
        laid = self.lay(job, piece, [], [0.0, float(piece.width_mm)])
        measures, offcuts = measure(job, laid)
        answer = Plan(tuple(laid), (), measures, offcuts, 1, 0.1, 1, by_hand=True)
        assert propose_answer(added, plan_to_json(answer))

    def leave_out(self) -> None:
        plan = self.any_plan("issued")
        shares = list(plan.shares.filter(live=True))
        if len(shares) < 2:
            raise Refused("somebody has to stay")
        leave_out(self.random.choice(shares), acting=self.teacher, reason="away")

    def close(self) -> None:
        """As a plan alone, with what was added to its metal; a sheet to be parted only unmade."""
        plan = self.any_plan("issued")
        made = not plan.is_parted
        shares = PlanProject.objects.filter(live=True, plan__in=[plan, *plan.additions.all()])
        for share in shares.filter(project__stage="bench") if made else ():
            if self.random.random() < 0.8:
                Project.objects.filter(pk=share.project_id).update(stage=Project.Stage.MADE)
        kept: dict[str, tuple[Decimal, Decimal] | None] = {}
        for leaf in at_the_bench(plan).leaves:
            if self.random.random() < 0.7:
                kept[leaf.key] = self.part_of(leaf) if self.random.random() < 0.3 else None
        close_plan(
            plan,
            acting=self.teacher,
            offcuts_kept=kept,
            scrap_mass_g=self.money(),
            given_up_reason="left the class",
            overdraw_reason="used more",
        )


def overlap_mm2(plan: CutPlan) -> float:
    """By how much pieces of a plan lie over each other, by plane geometry alone."""
    assert plan.laid is not None
    outlines = [
        (placed.metal, placed.lay(plan.asked.wanted_by_id[placed.piece].outline))
        for placed in plan.laid.placements
    ]
    return sum(
        one.intersection(other).area
        for n, (metal, one) in enumerate(outlines)
        for there, other in outlines[:n]
        if metal == there
    )
