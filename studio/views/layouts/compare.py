"""Against the server's answer: an own layout and what the server laid of it, side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom.permissions import Action, Visit, requires
from classroom.wording.chosen_language import shown_in_chosen_language
from studio.core.cutting import Job, Placement, Plan, plan_from_json
from studio.core.cutting.groups import group_of
from studio.core.drawing import Piece
from studio.core.laying_out.beside import Beside, Fact, Laid, beside, for_two_mm
from studio.core.picturing.plan import MetalPicture, labels_of_pieces
from studio.core.picturing.why import why, with_letters
from studio.core.verifying import Fault, Judgement, measurable
from studio.models import Layout, TrialLayout
from studio.queries.layouts import layout_for
from studio.queries.trials import begun_from
from studio.running.health import nobody_works
from studio.running.layouts.judging import look_at_metal
from studio.running.trials.reaping import reap
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.layouts.estimate import estimate
from studio.steps.layouts.server_tries import WISHES, ask_server, name_of_wish, newest_trial
from studio.steps.layouts.tries import name_of
from studio.steps.plans.asking import piece_id
from studio.steps.plans.quote import pieces_of
from studio.views.plans.figures import drawn

from .faults import words

Wish = TrialLayout.Wish
MOST_FAULTS_TOLD = 4
FACTS = {
    "placed": "studio/trials/facts/placed.html",
    "faults": "studio/trials/facts/faults.html",
    "strip": "studio/trials/facts/strip.html",
    "metal": "studio/trials/facts/metal.html",
    "sawing": "studio/trials/facts/sawing.html",
    "free": "studio/trials/facts/free.html",
    "shared": "studio/trials/facts/shared.html",
    "price": "studio/trials/facts/price.html",
}


@requires(Action.LAY_OUT)
@require_POST
@shown_in_chosen_language
def layout_server(request: Visit, pk: int) -> HttpResponse:
    """Ask the server to lay all (`wish` whole), the rest, something better, or the nearest good."""
    layout = layout_for(request.user, pk)
    labels = labels_of_pieces(layout.asked)

    def told(fault: Fault) -> str:
        return words(fault, labels, request.user.school.units)

    trial = ask_server(layout, request.POST.get("wish", ""), acting=request.user, words=told)
    return redirect(f"{reverse('layout_compare', args=[pk])}?wish={trial.wish}")


@requires(Action.SEE_LAYOUT)
@never_cache
@require_GET
@shown_in_chosen_language
def layout_compare(request: Visit, pk: int) -> HttpResponse:
    """Both at one scale, once the server's is there; until then how far it is."""
    layout = layout_for(request.user, pk)
    if layout.origin == Layout.Origin.SERVER and layout.version == 0:
        before = begun_from(layout)
        if before is not None:
            return redirect("layout_compare", pk=before)
    wish = request.GET.get("wish", "")
    trial = newest_trial(layout, wish if wish in WISHES else "")
    if trial is not None and trial.state == TrialLayout.State.RUNNING and reap(only=trial.pk):
        trial.refresh_from_db()
    is_open = trial is not None and trial.is_open
    if request.htmx:  # type: ignore[attr-defined]
        if not is_open:
            answer = HttpResponse(status=204)
            answer["HX-Refresh"] = "true"
            return answer
        return render(request, "studio/trials/compare/progress.html", _progress(request, layout))
    context: dict[str, Any] = {
        "layout": layout,
        "own_name": name_of(layout),
        "is_teacher": request.user.is_teacher,
        "mine": _groups(request, layout),
        "wish_word": name_of_wish(trial.wish) if trial is not None else "",
        "trial": trial,
        "wish": trial.wish if trial is not None else Wish.WHOLE,
        "failed": trial is not None and trial.state == TrialLayout.State.FAILED,
        "crumbs": _crumbs(request, layout),
        "whose": _whose(request, layout),
    }
    if is_open:
        context |= _progress(request, layout)
    elif trial is not None and trial.made is not None and trial.answer is not None:
        if trial.made.job != layout.job:
            context["other_job"] = True
        else:
            context |= _both(request, layout, trial)
    return render(request, "studio/trials/compare/page.html", context)


def _progress(request: Visit, layout: Layout) -> dict[str, Any]:
    sent = request.GET.get("n", "")
    before = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 3 else 0
    return {
        "layout": layout,
        "is_open": True,
        "wish": request.GET.get("wish", ""),
        "delay": min(8, before + 1),
        "nobody": nobody_works(),
    }


def _groups(request: Visit, layout: Layout) -> set[str]:
    """Whose pieces are drawn as "yours"."""
    if request.user.is_teacher or layout.project_id is None:
        return set()
    return {group_of(layout.project_id)}


def _whose(request: Visit, layout: Layout) -> dict[str, str]:
    """What each of the two is called at the beginning of a sentence, and in its middle."""
    mine = layout.owner_id == request.user.pk
    return {
        "Own": _("Yours") if mine else _("The one laid by hand"),
        "own": _("yours") if mine else _("the one laid by hand"),
        "Server": _("The server’s"),
        "server": _("the server’s"),
    }


def _crumbs(request: Visit, layout: Layout) -> list[dict[str, str]]:
    if layout.plan is not None:
        crumbs = [
            {"label": _("Cut plans"), "url": reverse("plans")},
            {"label": capfirst(str(layout.plan)), "url": reverse("plan", args=[layout.plan_id])},
        ]
    else:
        assert layout.project is not None
        crumbs = [
            {"label": str(layout.project), "url": reverse("project", args=[layout.project_id])}
        ]
    table = {"label": name_of(layout), "url": reverse("layout", args=[layout.pk])}
    return [*crumbs, table, {"label": _("Against the server’s")}]


def _both(request: Visit, layout: Layout, trial: TrialLayout) -> dict[str, Any]:
    job = layout.asked
    laid = layout.laid
    judged, _shown = look_at_metal(layout, job, laid, layout.parted)
    answer = plan_from_json(trial.answer or {})
    name = f"trial-{trial.pk}"
    theirs, _shown = look_at_metal(name, job, answer.placements, answer.cuts)
    own = _laid(layout, laid, judged)
    server = _laid(layout, answer.placements, theirs)
    found = beside(own, server)
    pieces = _pieces(layout)
    depth = frame_depth_mm(layout.course.school)
    sides = [
        _side("own", job, own, _as_plan(job, laid, judged), pieces, depth),
        _side("server", job, server, _as_plan(job, answer.placements, theirs), pieces, depth),
    ]
    _to_one_scale(sides)
    labels = labels_of_pieces(job)
    units = request.user.school.units
    return {
        "sides": sides,
        "facts": [_told(fact, _whose(request, layout)) for fact in found.facts],
        "beside": found,
        "cost_less": _cost_less(found, own, server),
        "made": trial.made,
        "faults": [words(one, labels, units) for one in judged.faults[:MOST_FAULTS_TOLD]],
        "may_choose": layout.project_id is not None and request.user.is_student,
        "own_is_chosen": layout.chosen,
    }


def _laid(layout: Layout, placements: Sequence[Placement], judged: Judgement) -> Laid:
    return Laid(
        judged.measures,
        placed=len({(p.piece, p.copy) for p in placements}),
        wanted=layout.asked.copies,
        for_two_mm=for_two_mm(
            layout.asked, measurable(layout.asked, placements), judged.measures, judged.cuts
        ),
        faults=len(judged.faults),
        price=estimate(layout, placements, judged),
    )


def _as_plan(job: Job, placements: Sequence[Placement], judged: Judgement) -> Plan:
    """What is drawn: pieces that lie somewhere, with the offcuts that the rack would get, and the
    blanks where metal is parted."""
    return Plan(
        tuple(measurable(job, placements)),
        (),
        judged.measures,
        judged.offcuts,
        1,
        0.0,
        0,
        by_hand=job.hands is not None,
        cuts=judged.cuts,
        blanks=judged.blanks,
    )


def _pieces(layout: Layout) -> Mapping[str, Piece]:
    if layout.plan is not None:
        shares = layout.plan.shares.select_related("pattern")
        return pieces_of(list(shares.defer("pattern__tracing", "pattern__findings_json")))
    pattern = layout.pattern
    assert pattern is not None
    return {piece_id(pattern, piece): piece for piece in pattern.drawing.pieces}


def _side(
    key: str, job: Job, laid: Laid, plan: Plan, pieces: Mapping[str, Piece], depth: float
) -> dict[str, Any]:
    pictures = drawn(job, plan, lambda: pieces, depth) if plan.placements else []
    reasons = why(job, plan, pictures).only("keeps", "edges", "for-two", "windows")
    return {
        "key": key,
        "laid": laid,
        "plan": plan,
        "why": reasons,
        "pictures": [with_letters(reasons, one) for one in pictures],
    }


def _to_one_scale(sides: Sequence[dict[str, Any]]) -> None:
    """Every picture gets the widest one's width, so that a millimetre is as long on both sides."""
    widest = max(
        (float(one.view_box.split()[2]) for side in sides for one in side["pictures"]), default=0.0
    )
    for side in sides:
        side["pictures"] = [_as_wide(one, widest) for one in side["pictures"]]


def _as_wide(one: MetalPicture, width: float) -> MetalPicture:
    x, y, own, height = one.view_box.split()
    return one if float(own) >= width else replace(one, view_box=f"{x} {y} {width:g} {height}")


def _told(fact: Fact, whose: Mapping[str, str]) -> dict[str, Any]:
    """The fact with what the two are called: `One` is the better one, at the beginning."""
    server_first = fact.better == "server"
    return {
        "fact": fact,
        "template": FACTS[fact.code],
        "One": whose["Server" if server_first else "Own"],
        "one": whose["server" if server_first else "own"],
        "other": whose["own" if server_first else "server"],
    }


def _cost_less(found: Beside, own: Laid, server: Laid) -> Decimal | None:
    """By how much money's worth of metal and sawing the own one is better, where it is."""
    if not found.beaten or not server.is_whole:
        return None
    return Decimal(str(server.measures.cost - own.measures.cost)).quantize(Decimal("0.01"))
