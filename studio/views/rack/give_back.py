"""A cut plan's metal comes back: the form to close it with, and afterwards the balance."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from shapely.geometry import Polygon

from classroom.acting import done, said_on
from classroom.figures.rounding import share_of_area
from classroom.figures.units import format_area, format_mass, format_share
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from inventory.queries import stock_labelled
from inventory.rack.picturing import piece_svg
from studio.core.offcuts.returning import balance, total
from studio.core.picturing.plan import rectangles_of
from studio.core.verifying import largest_rectangle
from studio.forms.rack.give_back import CorrectScrapForm, ReturnForm
from studio.models import CutPlan, Quote
from studio.queries.patterns import projects_for
from studio.queries.plans import plan_for
from studio.steps.rack.balance_sheet import OutAtBench
from studio.steps.rack.correct_scrap import correct_scrap
from studio.steps.rack.give_back import at_the_bench, close_plan, hold_issued
from studio.steps.rack.returned_areas import (
    corrected,
    masses_now,
    off_scales_g,
    resized_by_piece,
    together,
)
from studio.steps.rack.scrap_weights import history_of_scrap, scrap_of

State = CutPlan.State


@requires(Action.RETURN_METAL)
def plan_return(request: Visit, plan_pk: int) -> HttpResponse:
    plan = plan_for(request.user, plan_pk)
    if plan.state == State.CLOSED:
        return render(request, "studio/bench/balance.html", _balance_context(request, plan))
    if plan.state == State.PARTED:
        raise Refused(
            "This plan's metal is parted: each student's is brought back by itself, on that "
            "student's own plan."
        )
    if plan.state != State.ISSUED:
        raise Refused(
            f"There is no metal to bring back: this plan is {plan.get_state_display()}. "
            "Its metal has to be handed out first."
        )
    bench = at_the_bench(plan)
    form = ReturnForm(request.POST or None, bench=bench, school=request.user.school)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            _close(request, plan, form)
            said = f"Cut plan {plan.pk} is closed. Mark the offcuts now."
            return done(request, said, "plan_return", plan.pk)
    if form.is_bound:
        plan.refresh_from_db()  # as it stands after a refusal
    context = _form_context(request, plan, bench, form)
    return render(request, "studio/bench/return.html", context)


@requires(Action.RETURN_METAL)
def plan_scrap_correct(request: Visit, plan_pk: int) -> HttpResponse:
    """The scrap of a closed plan weighed something else than was written down."""
    plan = plan_for(request.user, plan_pk)
    if plan.state != State.CLOSED:
        raise Refused("Scrap is weighed when a plan is closed: close it, and weigh it then.")
    form = CorrectScrapForm(request.POST or None, plan=plan, school=request.user.school)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                changed = correct_scrap(
                    plan,
                    data["scrap_mass_g"],
                    acting=request.user,
                    reason=data["reason"] + form.answered,
                )
                if changed:
                    form.keep_answer(plan, acting=request.user)
            said = "is corrected" if changed else "stood so already"
            return done(request, f"The scrap of cut plan {plan.pk} {said}.", "plan_return", plan.pk)
    back = reverse("plan_return", args=[plan.pk])
    counted = format_mass(scrap_of(plan), request.user.school.units)
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": "Correct the weight of the scrap",
            "lead": f"Cut plan {plan.pk}: it counts for {counted} now. What was written down "
            "stays; a new entry makes up the difference, and the review follows. No price "
            "changes, because metal is charged by area.",
            "button": "Write the correction down",
            "back_url": back,
            "crumbs": [
                *_crumbs(plan)[:2],
                {"label": "Metal back", "url": back},
                {"label": "Correct the scrap"},
            ],
        },
    )


def _crumbs(plan: CutPlan) -> list[dict[str, str]]:
    return [
        {"label": "Cut plans", "url": reverse("plans")},
        {"label": f"Plan {plan.pk}", "url": reverse("plan", args=[plan.pk])},
        {"label": "Metal back", "url": ""},
    ]


@transaction.atomic
def _close(request: Visit, plan: CutPlan, form: ReturnForm) -> None:
    """Close the plan and keep what was answered; nothing of it where somebody closed it first."""
    data = form.cleaned_data
    is_first = hold_issued(plan)
    close_plan(
        plan,
        acting=request.user,
        offcuts_kept=form.kept(),
        scrap_mass_g=data["scrap_mass_g"],
        remark=data["remark"] + form.answered,
        given_up_reason=data.get("given_up_reason", ""),
        overdraw_reason=data["overdraw_reason"],
        place=data["place"],
    )
    if is_first:
        form.keep_answer(plan, acting=request.user)


def _form_context(
    request: Visit, plan: CutPlan, bench: OutAtBench, form: ReturnForm
) -> dict[str, Any]:
    units = request.user.school.units
    rows = form.rows()
    rectangles = _rectangles(plan, bench)
    for row in rows:
        leaf = row["leaf"]
        title = f"Offcut {row['number']} of {leaf.stock}"
        row["picture"] = piece_svg(leaf.outline, title=title, kind="offcut", units=units)
        row["rectangle"] = rectangles.get(leaf.key)
    whole = total([balance(out, [leaf.outline for leaf in out.leaves]) for out in bench.outs])
    return {
        "plan": plan,
        "bench": bench,
        "form": form,
        "rows": rows,
        "giving_up": bool(request.GET.get("give_up")) or form.is_bound,
        "expected_scrap_g": plan.metal.mass_g(whole.scrap),
        "expected_most_g": plan.metal.mass_g(whole.scrap + whole.kerf),
        "crumbs": _crumbs(plan),
    }


def _rectangles(plan: CutPlan, bench: OutAtBench) -> dict[str, tuple[float, float]]:
    """The largest rectangle of each offcut by its key, the longer side first, as the plan tells
    it; measured anew where projects are given up and the offcuts are others."""
    answer = plan.laid
    if answer is None:
        return {}
    told = {
        offcut.outline.wkb: sides
        for offcut, sides in zip(answer.offcuts, rectangles_of(answer), strict=True)
    }
    found = {}
    for leaf in bench.leaves:
        if leaf.whole or not isinstance(leaf.outline, Polygon):
            continue
        sides = told.get(leaf.outline.wkb)
        if sides is None:
            own = largest_rectangle(leaf.outline)
            sides = own.longer_mm, own.shorter_mm
        found[leaf.key] = sides
    return found


def _balance_context(request: Visit, plan: CutPlan) -> dict[str, Any]:
    returned = plan.metal_return
    written: dict[str, Any] = returned.balance
    codes = [one["code"] for stock in written["stock"] for one in stock["offcuts"]]
    offcuts = {piece.code: piece for piece in stock_labelled(plan.course.school_id, codes)}
    money = {name: Decimal(text) for name, text in written["money"].items()}
    corrections = history_of_scrap(plan)
    weighed = float(corrections[-1].mass_g if corrections else returned.scrap_mass_g)
    by_code = resized_by_piece([plan.pk]).get(plan.pk, {})
    resized = together(by_code)
    mass = masses_now(plan)
    mass |= {
        "scrap_weighed": weighed,
        "unexplained": off_scales_g(weighed, mass["scrap_expected"]),
    }
    area = corrected(written["area_mm2"], resized)
    stock = [
        one | {"area_mm2": corrected(one["area_mm2"], by_code.get(one["code"]))}
        for one in written["stock"]
    ]
    units = request.user.school.units
    bars = [_bar(one["code"], one["area_mm2"], units) for one in stock]
    if len(bars) > 1:
        bars.append(_bar("All together", area, units))
    return {
        "plan": plan,
        "returned": returned,
        "area": area,
        "mass": mass,
        "off_g": abs(mass["unexplained"]),
        "corrections": corrections,
        "resized": bool(by_code),
        "money": money,
        "less": -money["difference"],
        "bars": bars,
        "stock": stock,
        "offcuts": [offcuts[code] for code in codes if code in offcuts],
        "quotes": _quotes(plan),
        "given_up": projects_for(request.user).filter(pk__in=written["given_up"]),
        "given_up_reason": written["given_up_reason"],
        "crumbs": _crumbs(plan),
    }


def _bar(label: str, area: dict[str, float], units: str) -> dict[str, Any]:
    """A stock piece as one bar of pieces, offcuts, scrap and kerf."""
    whole = area["out"] or 1.0
    parts, words, start = [], [], 0.0
    for kind, name, word in (
        ("piece", "pieces", "pieces"),
        ("offcut", "offcuts", "offcuts"),
        ("scrap", "scrap", "scrap"),
        ("kerf", "kerf", "kerf"),
    ):
        width = 100.0 * area[name] / whole
        parts.append({"kind": kind, "start": round(start, 3), "width": round(width, 3)})
        words.append(f"{word} {format_area(area[name], units)}")
        start += width
    used = area["pieces"] + area["kerf"] + area["scrap"]
    share = f"{format_share(share_of_area(area['pieces'], used) or 0)} in pieces"
    return {"label": label, "value": share, "text": ", ".join(words), "parts": parts}


def _quotes(plan: CutPlan) -> list[dict[str, Any]]:
    """For each project what was planned and what is settled."""
    rows: dict[int, dict[str, Any]] = {}
    quotes = plan.quotes.select_related("project__seat__student", "project__brief")
    for quote in quotes.order_by("project__seat__student__display_name", "project_id"):
        row = rows.setdefault(quote.project_id, {"project": quote.project})
        row["settled" if quote.kind == Quote.Kind.SETTLED else "planned"] = quote
    return list(rows.values())
