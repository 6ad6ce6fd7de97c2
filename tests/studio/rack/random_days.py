"""Random days of a school: every deed that moves metal or money, through the house's own steps."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable
from decimal import Decimal

from django.db import transaction
from shapely.geometry import Point, Polygon, box

from classroom.models import Course
from classroom.refusals import Refused
from inventory.buying import receiving
from inventory.buying.correcting import RightHead, RightLine, correct_purchase
from inventory.buying.sheet_line import SheetLine
from inventory.models import Budget, Purchase, ScrapEntry, ScrapSale, StockPiece
from inventory.rack import correcting, counting, scrap, stock
from inventory.rack.edges import edges_of, with_clean
from inventory.spending import ledger
from studio.core.cutting import Placement, Plan, job_from_json, plan_to_json
from studio.core.offcuts.returning import Leaf
from studio.core.verifying import faults, measure
from studio.models import Brief, CutPlan, PlanProject, Project
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.asking import make_job
from studio.steps.plans.drop import drop_plan
from studio.steps.plans.issue import issue_plan
from studio.steps.plans.quote import make_quotes
from studio.steps.rack.correct_scrap import correct_scrap
from studio.steps.rack.give_back import at_the_bench, close_plan
from tests.studio.bench.making import World


class RandomDays:
    """`do` performs one random deed; what the rules refuse counts as done, with nothing kept."""

    def __init__(self, world: World, seed: int) -> None:
        self.world = world
        self.random = random.Random(seed)
        self.teacher = world.cast.teacher
        self.school = world.cast.school
        self.done: dict[str, int] = {}
        self.refused: dict[str, int] = {}
        self.briefs = 0
        self.other = Course.objects.create(
            school=self.school,
            title="Metals 2",
            term="Autumn 2026",
            starts_on=world.cast.course.starts_on,
            ends_on=world.cast.course.ends_on,
        )
        self.deeds: list[tuple[int, Callable[[], None]]] = [
            (4, self.receive),
            (6, self.offcut),
            (12, self.correct),
            (6, self.move),
            (2, self.strike_off),
            (3, self.scrap_piece),
            (8, self.weigh),
            (5, self.take_scrap),
            (3, self.correct_scrap),
            (3, self.sell_scrap),
            (3, self.correct_sale),
            (8, self.correct_purchase),
            (3, self.correct_plans_scrap),
            (2, self.count),
            (10, self.allot),
            (3, self.transfer),
            (2, self.policy),
            (8, self.commit_elsewhere),
            (5, self.propose),
            (5, self.approve),
            (1, self.drop),
            (4, self.issue),
            (4, self.close),
        ]

    def do(self) -> None:
        weights = [weight for weight, _ in self.deeds]
        ((_, deed),) = self.random.choices(self.deeds, weights)
        name = deed.__name__
        try:
            with transaction.atomic():
                deed()
        except Refused:
            self.refused[name] = self.refused.get(name, 0) + 1
        else:
            self.done[name] = self.done.get(name, 0) + 1

    def money(self, most: int = 4000) -> Decimal:
        return Decimal(self.random.randrange(1, most)) / 100

    def any_piece(self, **asked: object) -> StockPiece:
        pks = StockPiece.objects.filter(**asked).values_list("pk", flat=True)[:200]
        if not pks:
            raise Refused("nothing there")
        return StockPiece.objects.select_related("metal", "school").get(pk=self.random.choice(pks))

    def any_plan(self, state: str) -> CutPlan:
        pks = CutPlan.objects.filter(state=state).values_list("pk", flat=True)
        if not pks:
            raise Refused("nothing there")
        return CutPlan.objects.select_related("course__school", "metal").get(
            pk=self.random.choice(pks)
        )

    def budget(self) -> Budget:
        return ledger.open_budget(self.world.cast.course)

    # The rack

    def receive(self) -> None:
        count = self.random.randint(1, 4)
        side = Decimal(self.random.randrange(4000, 15000)) / 100
        line = SheetLine(self.world.metal, count, side, Decimal(80), self.money(9000))
        receiving.receive_purchase(
            self.school, [line], acting=self.teacher, bought_on=dt.date(2026, 9, 2)
        )

    def offcut(self) -> None:
        points = [
            (self.random.uniform(0, 90), self.random.uniform(0, 90))
            for _ in range(self.random.randint(3, 7))
        ]
        stock.receive_offcut(
            self.school,
            self.world.metal,
            Polygon(points),
            acting=self.teacher,
            cost=self.money(900),
            reason="found",
        )

    def correct(self) -> None:
        outline = (
            box(0, 0, self.random.uniform(5, 150), self.random.uniform(5, 90))
            if self.random.random() < 0.4
            else None
        )
        cost = self.money() if self.random.random() < 0.6 else None
        piece = self.any_piece()
        sides = edges_of(piece.polygon)
        some = int(self.random.random() * 16)
        clean = {side.key for number, side in enumerate(sides) if some >> number % 4 & 1}
        correcting.correct(
            piece,
            acting=self.teacher,
            reason="measured again",
            cost=cost,
            outline=outline,
            edges=with_clean(sides, clean),
        )

    def move(self) -> None:
        place = f"drawer {self.random.randint(1, 9)}"
        correcting.move_to(self.any_piece(), place, acting=self.teacher)

    def strike_off(self) -> None:
        correcting.strike_off(self.any_piece(), acting=self.teacher, reason="lost")

    def scrap_piece(self) -> None:
        stock.scrap(self.any_piece(state="rack"), acting=self.teacher, reason="bent")

    # Scrap boxes

    def weigh(self) -> None:
        scrap.weigh_scrap(
            self.school, "C11000", self.money(), acting=self.teacher, reason="trays emptied"
        )

    def take_scrap(self) -> None:
        scrap.take_from_box(
            self.school, "C11000", self.money(20000), acting=self.teacher, reason="melted"
        )

    def correct_scrap(self) -> None:
        own = ScrapEntry.objects.exclude(cause__startswith="scrapentry:")
        pks = own.values_list("pk", flat=True)
        if not pks:
            raise Refused("nothing there")
        entry = ScrapEntry.objects.select_related("school").get(pk=self.random.choice(pks))
        scrap.correct_weighing(entry, self.money(), acting=self.teacher, reason="misread")

    def sell_scrap(self) -> None:
        scrap.sell_scrap(
            self.school,
            "C11000",
            self.money(),
            self.money(300),
            acting=self.teacher,
            budget=self.budget(),
            sold_on=dt.date(2026, 9, 2),
        )

    def correct_sale(self) -> None:
        pks = ScrapSale.objects.in_force().values_list("pk", flat=True)
        if not pks:
            raise Refused("nothing there")
        sale = ScrapSale.objects.get(pk=self.random.choice(list(pks)))
        mass, amount = self.random.choice([(Decimal(0), Decimal(0)), (self.money(), self.money())])
        scrap.correct_sale(
            sale,
            mass,
            amount,
            acting=self.teacher,
            reason="written down wrong",
            budget=self.random.choice([self.budget(), ledger.open_budget(self.other)]),
            sold_on=sale.sold_on,
        )

    def correct_purchase(self) -> None:
        """Some lines get another number, price or size; sometimes the freight is another."""
        pks = Purchase.objects.values_list("pk", flat=True)
        purchase = Purchase.objects.get(pk=self.random.choice(list(pks)))
        lines = {}
        for line in purchase.lines.all():
            right = {
                "count": line.count,
                "width_mm": line.width_mm,
                "height_mm": line.height_mm,
                "price": line.price,
            }
            match self.random.randrange(5):
                case 0:
                    right["count"] = max(0, line.count + self.random.choice([-2, -1, 1, 2]))
                case 1 | 2:
                    right["price"] = self.money(9000)
                case 3:
                    right["width_mm"] = Decimal(self.random.randrange(4000, 15000)) / 100
            lines[line.pk] = RightLine(**right)
        extra = self.random.choice([purchase.freight, self.money(900)])
        correct_purchase(
            purchase,
            RightHead(purchase.bought_on, purchase.seller, "", extra, purchase.tax),
            lines,
            acting=self.teacher,
            reason="misread",
            seen=purchase.corrections.count(),
        )

    def correct_plans_scrap(self) -> None:
        plan = self.any_plan(CutPlan.State.CLOSED)
        correct_scrap(plan, self.money(), acting=self.teacher, reason="misread")

    def count(self) -> None:
        """A stock count that misses some pieces and finds some lost ones again."""
        count = counting.open_count(self.school, None, acting=self.teacher)
        seen = ["here", "here", "here", "else", "missing"]
        counting.tick(
            count,
            {
                row.pk: counting.Tick(
                    "here" if row.stock_piece.state == "reserved" else self.random.choice(seen),
                    "found place",
                )
                for row in count.pieces.select_related("stock_piece")
            },
            acting=self.teacher,
        )
        lost = StockPiece.objects.filter(state="gone").order_by("pk").values_list("code", flat=True)
        for code in list(lost)[: self.random.randint(0, 3)]:
            try:
                counting.add_unexpected(count, code, acting=self.teacher)
            except Refused:
                continue
        counting.book(count, acting=self.teacher, reason="counted")

    # Money

    def transfer(self) -> None:
        here, there = self.budget(), ledger.open_budget(self.other)
        if self.random.random() < 0.5:
            here, there = there, here
        ledger.transfer(here, there, self.money(1000), acting=self.teacher, reason="moved")

    def allot(self) -> None:
        amount = self.money(3000) * self.random.choice((1, 1, -1))
        ledger.allot(self.budget(), amount, acting=self.teacher, reason="term")

    def policy(self) -> None:
        chosen = self.random.choice(Budget.CostPolicy.values)
        ledger.choose_policy(self.budget(), chosen, acting=self.teacher)

    def commit_elsewhere(self) -> None:
        amount, cause = self.money(), f"other:{self.random.randint(1, 50)}"
        why = "needed" if self.random.random() < 0.3 else ""
        budget, words = self.budget(), {"acting": self.teacher, "reason": "r", "cause": cause}
        match self.random.randint(1, 4):
            case 1:
                ledger.commit(budget, amount, overdraw_reason=why, **words)  # type: ignore[arg-type]
            case 2:
                ledger.release(budget, amount, **words)  # type: ignore[arg-type]
            case 3:
                ledger.charge(budget, amount, overdraw_reason=why, **words)  # type: ignore[arg-type]
            case _:
                ledger.credit(budget, amount, **words)  # type: ignore[arg-type]

    # Cut plans

    def propose(self) -> None:
        """One to three projects on one stock piece, laid where the judge finds no fault."""
        piece = self.any_piece(state="rack")
        projects = [self.project() for _ in range(self.random.randint(1, 3))]
        data = make_job(
            [one.patterns.select_related("project__brief").get() for one in projects],
            [piece],
            self.school,
        )
        job = job_from_json(data)
        laid: list[Placement] = []
        for order in job.pieces:
            for _ in range(12):
                spot = Point(
                    self.random.uniform(0, float(piece.width_mm)),
                    self.random.uniform(0, float(piece.height_mm)),
                )
                one = Placement(order.id, 0, piece.code, False, 0.0, spot.x, spot.y)
                if not faults(job, [*laid, one]):
                    laid.append(one)
                    break
            else:
                raise Refused("no room")
        measures, offcuts = measure(job, laid)
        plan = CutPlan.objects.create(
            course=self.world.cast.course,
            metal=self.world.metal,
            state=CutPlan.State.PROPOSED,
            job=data,
            answer=plan_to_json(Plan(tuple(laid), (), measures, offcuts, 1, 0.1, 1)),
            created_by=self.teacher,
        )
        for project in projects:
            PlanProject.objects.create(plan=plan, project=project, pattern=project.patterns.get())
        make_quotes(plan)

    def project(self) -> Project:
        self.briefs += 1
        brief = Brief.objects.create(
            course=self.world.cast.course,
            title=f"Brief {self.briefs}",
            allowance=Decimal(9),
            created_by=self.teacher,
        )
        world = World(self.world.cast, brief, self.world.metal)
        width, height = self.random.uniform(6, 30), self.random.uniform(6, 20)
        return world.project(self.world.cast.seat, box(0, 0, width, height))

    def approve(self) -> None:
        approve_plan(self.any_plan("proposed"), acting=self.teacher, overdraw_reason="fair")

    def drop(self) -> None:
        drop_plan(self.any_plan(self.random.choice(["proposed", "approved"])), acting=self.teacher)

    def issue(self) -> None:
        issue_plan(self.any_plan("approved"), acting=self.teacher)

    def close(self) -> None:
        plan = self.any_plan("issued")
        for share in plan.shares.all():
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

    def part_of(self, leaf: Leaf) -> tuple[Decimal, Decimal]:
        width, height = leaf.size_mm
        share = self.random.uniform(0.2, 0.6)
        return Decimal(f"{width * share:.2f}"), Decimal(f"{height * share:.2f}")
