"""A shared stock piece and its steps as whoever acts meets them, held until the deed is done.

How a step then moves is the same for all steps: `studio.steps.bench.moves`.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from classroom.models import User
from classroom.refusals import Refused
from classroom.safety.permits import missing_permits
from classroom.safety.topics import wordings_for
from studio.core.bench.texts import BenchStepKind, StockStepKind
from studio.models import BenchStep, CutPlan, PlanStock, StockSignOff, StockStep
from studio.queries.shared_stock import SharedStock, letters_in, stock_with_shares
from studio.steps.bench.shared_metal import letter_of
from studio.steps.bench.situation import school_now, set_aside

from .stock_rules import StockSituation

Kind = StockSignOff.Kind


def hold_stock(plan_stock: PlanStock) -> PlanStock:
    """The stock piece's row, held until the transaction ends: all that happens to shared metal
    happens one after the other. Raises Refused where its plan no longer holds it."""
    held = (
        PlanStock.objects.select_for_update(of=("self",), no_key=True)
        .select_related("stock_piece", "plan__course__school", "plan__metal")
        .defer("plan__job", "plan__answer")
        .get(pk=plan_stock.pk)
    )
    if not held.live:
        text = _("%(code)s is not at the bench.")
        raise Refused(text % {"code": held.stock_piece.code})
    return held


def hold_step(step: StockStep, acting: User) -> tuple[StockStep, StockSituation]:
    """The step as it is now, and its stock piece as whoever acts meets it, held."""
    if step.kind == StockStepKind.PART:
        raise Refused(_("Metal is parted on its own page, where what came out is entered too."))
    held = hold_stock(step.plan_stock)
    on = stock_situation(stock_with_shares(held), acting)
    here = next(one for one in on.steps if one.pk == step.pk)
    return here, on


def stock_situation(stock: SharedStock, acting: User) -> StockSituation:
    """The stock piece at this moment; what is missing are the permits of a student who acts."""
    plan = stock.plan_stock.plan
    now = school_now(plan.course.school)
    steps = list(stock.plan_stock.steps.order_by("number"))
    for step in steps:
        step.plan_stock = stock.plan_stock
    missing = {}
    if acting.is_student:
        codes = {code for step in steps if step.done_at is None for code in step.permits}
        topics = missing_permits(acting, codes, now.date())
        words = wordings_for(topics, get_language() or "en")
        missing = {topic.code: words[topic.pk].title for topic in topics}
    letters = letters_in([plan.pk])
    stuck = stuck_shares(steps)
    begun = set(
        BenchStep.objects.filter(
            project__in=[share.project_id for share in stock.live], started_at__isnull=False
        )
        .exclude(kind__in=[step.kind for step in steps])
        .values_list("project", flat=True)
    )
    return StockSituation(
        stock.plan_stock.stock_piece.code,
        plan.state == CutPlan.State.ISSUED and stock.plan_stock.live,
        steps,
        missing,
        set_aside(steps, StockSignOff.objects.all()),
        now,
        [letter_of(share, letters) for share in stock.live if share.pk not in stuck],
        [letter_of(share, letters) for share in stock.live if share.project_id in begun],
    )


def stuck_shares(steps: Sequence[StockStep]) -> dict[int, StockSignOff]:
    """By share, the sign-off that its papers are on, since sticking was started."""
    step = next((one for one in steps if one.kind == BenchStepKind.ADHERE), None)
    if step is None or step.started_at is None:
        return {}
    rows = step.sign_offs.filter(kind=Kind.STUCK, at__gte=step.started_at)
    return {
        row.share_id: row
        for row in rows.select_related("by", "stand_in").order_by("at", "pk")
        if row.share_id is not None
    }
