"""What a layout comes to: the judge's measures, and the price of the metal that it uses up.

Judging takes up to seconds of a processor, and whoever holds a project meanwhile (on SQLite the
whole database) lets everybody wait. So a layout that is to be used is `weighed` before anything is
held, and what was found is used if the layout is still in that state.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final

from classroom.models import School
from classroom.refusals import Refused
from inventory.queries import stock_labelled
from studio.core.cutting import Job, Placement, job_from_json, plan_from_json
from studio.core.cutting.formats import measures_to_json
from studio.core.cutting.job import Measures, Offcut
from studio.core.laying_out.holds import within_pattern
from studio.core.offcuts.rack_offcuts import on_the_rack
from studio.core.pricing.shares import to_the_cent
from studio.core.verifying import measure
from studio.models import Brief, Layout, Project, TrialLayout
from studio.steps.plans.taking_layouts import RECTANGLES

from .judged import judged_fit

Worth = dict[str, Any]
"""The measures as JSON, `touched_mm2` (area of the metal that is touched), `metal_price`, money as
text, at what the stock pieces really cost, and the `rule`."""

Judged = tuple[Measures, tuple[Offcut, ...]]

RULE: Final = 2
"""By which rule a layout's figures are told: since the second with offcuts as the rack gets them,
before that (unmarked) with the judge's, which have round corners."""


def worth_of(
    job: Job, placements: Sequence[Placement], school: School, judged: Judged | None = None
) -> Worth:
    """What these placements come to; `judged` where the judge has measured them already."""
    found = on_the_rack(job, placements, *(judged or measure(job, placements)))
    return worth_on_the_rack(job, placements, school, found)


def worth_on_the_rack(
    job: Job, placements: Sequence[Placement], school: School, found: Judged
) -> Worth:
    """The same where it is told of the offcuts that the rack gets already."""
    measures, offcuts = found
    touched = sorted({p.metal for p in placements if p.metal in job.stock_by_id})
    prices = {row.code: row.price_per_mm2 for row in stock_labelled(school, touched)}
    price = Decimal(0)
    area = 0.0
    for code in touched:
        whole = job.stock_by_id[code].outline.area
        used = whole - sum(one.outline.area for one in offcuts if one.metal == code)
        price += Decimal(f"{used:.4f}") * prices.get(code, Decimal(0))
        area += whole
    return measures_to_json(measures) | {
        "touched_mm2": round(area, 4),
        "metal_price": str(to_the_cent(price)),
        "rule": RULE,
    }


def is_told_as_now(figures: Mapping[str, Any]) -> bool:
    """Whether these figures were told by the rule of today, and may stand beside others of it."""
    return figures.get("rule") == RULE


def kept_of(layout: Layout) -> Worth:
    """What else the layout's figures hold and may stay there: all of it where it is of this very
    state, else only where the layout lies."""
    if layout.figures.get("version") == layout.version:
        return dict(layout.figures)
    return {name: value for name, value in layout.figures.items() if name == RECTANGLES}


def beside_of(layout: Layout, school: School) -> Worth:
    """What stands beside the layout's own figures: as it was kept when it was handed in; where
    that was told by an earlier rule, what the server made of it is told anew, if it is still there.
    """
    return layout.beside if is_told_as_now(layout.beside) else servers_worth(layout, school)


def servers_worth(layout: Layout, school: School) -> Worth:
    """What the server made of the same pieces, where it has laid all of them; nothing where it has
    not. A version of the pattern that was handed in again for its layout has the same pieces."""
    done = TrialLayout.objects.filter(state=TrialLayout.State.DONE, answer__isnull=False)
    whole = done.filter(layout=layout, wish=TrialLayout.Wish.WHOLE)
    trials = done.filter(pattern__project=layout.project_id, wish=TrialLayout.Wish.TRIAL)
    for trial in (*whole.order_by("-pk")[:3], *trials.order_by("-pk")[:3]):
        if trial.job is None or trial.answer is None or not _same_pieces(trial.job, layout.job):
            continue
        plan = plan_from_json(trial.answer)
        if not plan.unplaced:
            return worth_of(job_from_json(trial.job), plan.placements, school)
    return {}


def _same_pieces(one: dict[str, Any], other: dict[str, Any]) -> bool:
    return _asked(one) == _asked(other)


def _asked(job: dict[str, Any]) -> dict[str, tuple[str, int]]:
    return {
        within_pattern(piece["id"]): (piece["outline"], piece["count"]) for piece in job["pieces"]
    }


def kept_share(worth: Mapping[str, Any]) -> float | None:
    """What goes back to the rack of the metal that is touched, 0 to 1."""
    touched = worth.get("touched_mm2") or 0.0
    return worth["kept_mm2"] / touched if touched else None


def waste_share(worth: Mapping[str, Any]) -> float | None:
    """Kerf and scrap of the metal that is used up, 0 to 1."""
    used = worth.get("consumed_mm2") or 0.0
    return 1.0 - worth.get("piece_area_mm2", 0.0) / used if used else None


@dataclass(frozen=True, slots=True)
class Weighed:
    """Of one state of a layout: what it comes to and what the server's comes to, or why it is not
    fit to be used."""

    layout_pk: int
    version: int
    figures: Worth = field(default_factory=dict)
    beside: Worth = field(default_factory=dict)
    refusal: Refused | None = None


def weighed(layout: Layout, school: School) -> Weighed:
    try:
        found = judged_fit(layout.asked, layout.laid)
    except Refused as refusal:
        return Weighed(layout.pk, layout.version, refusal=refusal)
    figures = worth_of(layout.asked, layout.laid, school, (found.measures, found.offcuts))
    return Weighed(layout.pk, layout.version, figures, servers_worth(layout, school))


def weighed_ahead(project: Project) -> Weighed | None:
    """The project's try that counts, as it is now; none where no layout is taken in."""
    if project.brief.laid_by == Brief.LaidBy.SERVER:
        return None
    layout = chosen_layout(project)
    return None if layout is None else weighed(layout, project.brief.course.school)


def weighed_now(layout: Layout, school: School, ahead: Weighed | None) -> Weighed:
    """What was worked out ahead if it is of this state, else worked out now. Raises Refused where
    the layout is not fit to be used."""
    found = ahead
    if found is None or (found.layout_pk, found.version) != (layout.pk, layout.version):
        found = weighed(layout, school)
    if found.refusal is not None:
        raise found.refusal
    return found


def chosen_layout(project: Project) -> Layout | None:
    """The project's try that counts, handed in or not."""
    return project.layouts.filter(chosen=True).select_related("owner").first()
