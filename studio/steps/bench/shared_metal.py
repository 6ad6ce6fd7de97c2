"""How is a project's metal shared? Read once for many projects, for the rules and the pages.

The number of queries does not grow with the projects.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db.models import Q

from studio.core.bench.texts import BenchStepKind
from studio.core.cutting.groups import group_of
from studio.models import BenchStep, CutPlan, MetalHolder, PlanProject, Project, StockStep
from studio.queries.shared_stock import SharedStock, letters_in, shared_stock_of, stock_under

from .shared_rules import NOT_SHARED, Holder, SharedMetal, SharedPiece

State = CutPlan.State
WET = (BenchStepKind.ADHERE, BenchStepKind.DRY)


def shared_metals(projects: Sequence[Project]) -> dict[int, SharedMetal]:
    """By the project's pk, the metal that it has together with others."""
    shares = list(
        PlanProject.objects.filter(project__in=projects, live=True, plan__state=State.ISSUED)
        .select_related("plan")
        .defer("plan__job", "plan__answer")
    )
    passed = {share.plan_id for share in shares if share.plan.way == CutPlan.Way.PASSED}
    stock = shared_stock_of(passed) if passed else []
    letters = letters_in(passed) if passed else {}
    holders = holders_of(stock, letters)
    steps = steps_of_stock(stock)
    wet = _with_wet_papers(shares)
    found = dict.fromkeys((project.pk for project in projects), NOT_SHARED)
    for share in shares:
        pieces = tuple(
            SharedPiece(
                one.plan_stock.pk,
                one.plan_stock.stock_piece.code,
                steps.get(one.plan_stock.pk, ()),
                holders.get(one.plan_stock.pk),
                mine=_holds(holders.get(one.plan_stock.pk), share.pk),
            )
            for one in stock
            if any(other.pk == share.pk for other in one.shares)
        )
        found[share.project_id] = SharedMetal(
            to_part=share.plan.is_parted,
            lay_anew=share.plan.to_lay_anew,
            wet_papers=share.project_id in wet,
            pieces=pieces,
            share=share.pk,
            letter=letter_of(share, letters),
            turn=share.turn,
        )
    return found


def shared_metal(project: Project) -> SharedMetal:
    return shared_metals([project])[project.pk]


def holders_of(
    stock: Iterable[SharedStock], letters: dict[tuple[int, str], str]
) -> dict[int, Holder]:
    """By the plan's stock piece, in whose hands it is; those of which nobody was named are not
    among them."""
    return {
        pk: Holder(row.at)
        if row.share is None
        else Holder(row.at, row.share.pk, letter_of(row.share, letters))
        for pk, row in newest_holders(stock).items()
    }


def newest_holders(stock: Iterable[SharedStock]) -> dict[int, MetalHolder]:
    """The entry that counts, by the plan's stock piece."""
    rows = MetalHolder.objects.filter(plan_stock__in=[one.plan_stock.pk for one in stock])
    return {row.plan_stock_id: row for row in rows.select_related("share").order_by("at", "pk")}


def steps_of_stock(stock: Iterable[SharedStock]) -> dict[int, tuple[StockStep, ...]]:
    """The steps that are done once for the whole, by the plan's stock piece."""
    found: dict[int, tuple[StockStep, ...]] = {}
    rows = StockStep.objects.filter(plan_stock__in=[one.plan_stock.pk for one in stock])
    for step in rows.order_by("plan_stock", "number"):
        found[step.plan_stock_id] = (*found.get(step.plan_stock_id, ()), step)
    return found


def letter_of(share: PlanProject, letters: dict[tuple[int, str], str]) -> str:
    return letters.get((share.plan_id, group_of(share.project_id)), "")


def kinds_done_for_all(project: Project) -> frozenset[str]:
    """The kinds of steps that the project leaves out, because all the metal under its pieces has
    them as a whole."""
    share = PlanProject.objects.filter(project=project, live=True).first()
    if share is None:
        return frozenset()
    on = stock_under(share)
    kinds: dict[str, set[str]] = {code: set() for code in on}
    rows = StockStep.objects.filter(
        plan_stock__plan=share.plan_id, plan_stock__stock_piece__code__in=on
    )
    for code, kind in rows.values_list("plan_stock__stock_piece__code", "kind"):
        kinds[code].add(kind)
    return frozenset(set.intersection(*kinds.values())) if kinds else frozenset()


def _holds(holder: Holder | None, share: int) -> bool:
    return holder is not None and holder.share == share


def _with_wet_papers(shares: Sequence[PlanProject]) -> set[int]:
    """Projects with papers of another project on their metal that are not dry: added to it, or
    there when their own were added."""
    plans = {share.plan_id for share in shares}
    bases = {share.plan.adds_to_id for share in shares if share.plan.adds_to_id} | set(
        CutPlan.objects.filter(adds_to__in=plans, state=State.ISSUED).values_list(
            "adds_to", flat=True
        )
    )
    if not bases:
        return set()
    together = (
        PlanProject.objects.filter(live=True, plan__state=State.ISSUED)
        .filter(Q(plan__in=bases) | Q(plan__adds_to__in=bases))
        .values_list("project", "plan", "plan__adds_to")
    )
    family = {project: adds_to or plan for project, plan, adds_to in together}
    wet = set(
        BenchStep.objects.filter(project__in=family, kind__in=WET, done_at=None).values_list(
            "project", flat=True
        )
    )
    return {
        project
        for project, base in family.items()
        if any(other != project and family[other] == base for other in wet)
    }
