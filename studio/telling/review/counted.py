"""Which prices count, where a project had several in the course of one sheet?"""

from __future__ import annotations

from decimal import Decimal

from django.db.models import Exists, OuterRef, QuerySet
from django.db.models.fields.json import KeyTransform

from inventory.models import StockMovement
from studio.models import CutPlan, PlanProject, Quote

HANDED_OUT = (CutPlan.State.ISSUED, CutPlan.State.CLOSED)
UNPARTED = (CutPlan.Way.ALONE, CutPlan.Way.PASSED)
NONE = Decimal("0.00")


def quotes_that_count() -> QuerySet[Quote]:
    """Prices of projects that are on the plan still, or were to its end.

    A shared plan's price of a project that went on with its own blank is told by its own plan;
    one that was left out at the bench pays nothing.
    """
    on_it = PlanProject.objects.filter(
        plan=OuterRef("plan"), project=OuterRef("project"), live=True
    )
    return Quote.objects.filter(Exists(on_it))


def borne_by_course(plans: QuerySet[CutPlan]) -> Decimal:
    """What the plans cost beyond what their projects pay: by the course's own cost policy, and for
    blanks that were spoilt when metal was parted."""
    rows = (
        quotes_that_count()
        .filter(
            plan__in=plans.filter(state__in=HANDED_OUT).values("pk"),
            rates__has_key="course_share",
        )
        .order_by("kind")  # "planned" before "settled", which stays
        .values_list(
            "plan_id", "project_id", "rates__course_share", KeyTransform("own_blank", "rates")
        )
    )
    best = {(plan, project): (share, own) for plan, project, share, own in rows}
    # With a blank of its own every project has a share of its own; else one is the plan's.
    shares = {(plan, own and project): share for (plan, project), (share, own) in best.items()}
    # As text: the database may tell "1.10" as the nearest double.
    return sum((Decimal(str(share)) for share in shares.values()), _spoilt_at_parting(plans))


def _spoilt_at_parting(plans: QuerySet[CutPlan]) -> Decimal:
    keys = plans.exclude(way__in=UNPARTED).order_by().values_list("pk", flat=True)
    spoilt = StockMovement.objects.filter(
        kind=StockMovement.Kind.SCRAP, cause__in=[f"cutplan:{pk}" for pk in keys]
    )
    return -sum(spoilt.values_list("cost", flat=True), NONE)
