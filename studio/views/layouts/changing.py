"""Everything that is done on the layout table: pieces moved, pinned, undone; stock pieces; tries.

The script and plain forms send to the same addresses. A script is answered with what is other now,
a plain form with the page itself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from classroom.figures.units import Units
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.refused_forms import Wrong
from studio.core.picturing.plan import labels_of_pieces
from studio.forms.layouts.changing import (
    moves_asked,
    not_understood,
    piece_of,
    sending,
    stock_asked,
)
from studio.forms.layouts.moving import move_asked
from studio.forms.layouts.parting import cut_asked
from studio.models import Layout
from studio.queries.layouts import layout_for, layouts_for
from studio.running.layouts import judging
from studio.steps.layouts import change, tries
from studio.steps.layouts.may_lay import Closed, require_may_change
from studio.views.house.students_language import in_a_students_language
from studio.views.house.sure_send import sent_at_once, wants_json

from .pages import table_page
from .state import back_of, look, state_after, urls_of, whole_state

Deed = Callable[[Layout], Layout]


@requires(Action.LAY_OUT)
@require_POST
@in_a_students_language
def layout_change(request: Visit, pk: int) -> HttpResponse:
    """Pieces laid, moved or put back (`changes` as JSON), all or none."""
    return _do(
        request,
        pk,
        lambda one: change.put(
            one, moves_asked(request.POST), **sending(request.user, request.POST)
        ),
    )


@requires(Action.LAY_OUT)
@require_POST
@in_a_students_language
def layout_undo(request: Visit, pk: int) -> HttpResponse:
    return _do(request, pk, lambda one: change.undo(one, **sending(request.user, request.POST)))


@requires(Action.LAY_OUT)
@require_POST
@in_a_students_language
def layout_redo(request: Visit, pk: int) -> HttpResponse:
    return _do(request, pk, lambda one: change.redo(one, **sending(request.user, request.POST)))


@requires(Action.LAY_OUT)
@require_POST
@in_a_students_language
def layout_pin(request: Visit, pk: int) -> HttpResponse:
    """`on` is 1 or true to pin a piece, anything else lets it go."""

    def pinned(one: Layout) -> Layout:
        on = request.POST.get("on", "") in ("1", "true", "on")
        return change.pin(one, *piece_of(request.POST), on, **sending(request.user, request.POST))

    return _do(request, pk, pinned)


@requires(Action.LAY_OUT)
@require_POST
@in_a_students_language
def layout_stock(request: Visit, pk: int) -> HttpResponse:
    """On which stock pieces it is laid out; metal is another then, so a script starts anew."""
    unit = Units(request.user.school.units).typed

    def laid_on(one: Layout) -> Layout:
        return change.use_stock(
            one, stock_asked(request.POST, unit), **sending(request.user, request.POST)
        )

    return _do(request, pk, laid_on, whole=True, goes_to="stock")


@requires(Action.LAY_OUT)
@require_POST
@in_a_students_language
def layout_place(request: Visit, pk: int) -> HttpResponse:
    """One piece laid without dragging: `do` says how (place, at, turn, mirror, tray)."""
    return _do(request, pk, lambda one: _placed(request, one), goes_to="id-place")


@requires(Action.LAY_OUT)
@require_POST
@in_a_students_language
def layout_cuts(request: Visit, pk: int) -> HttpResponse:
    """Parting cuts of a plan's layout: `do` says what (add, move, shift, turn, size, remove)."""
    unit = Units(request.user.school.units).typed

    def cut(one: Layout) -> Layout:
        require_may_change(one, request.user)
        return cut_asked(one, request.POST, request.user, unit)

    return _do(request, pk, cut, goes_to="cuts")


def _placed(request: Visit, one: Layout) -> Layout:
    require_may_change(one, request.user)
    unit = Units(request.user.school.units).typed
    move = move_asked(request.POST, unit, one.asked, one.laid)
    return change.put(one, [move], **sending(request.user, request.POST))


@requires(Action.CHOOSE_LAYOUT)
@require_POST
@in_a_students_language
def layout_tries(request: Visit, pk: int) -> HttpResponse:
    """`do`: copy, rename, choose, drop or new; `name` where one is given."""
    one = layout_for(request.user, pk)
    acting, name = request.user, request.POST.get("name", "")[:200]
    try:
        goes_on = one
        match request.POST.get("do", ""):
            case "copy":
                goes_on = tries.copy(one, acting=acting, name=name)
            case "new":
                goes_on = tries.new(one, acting=acting, name=name)
            case "rename":
                tries.rename(one, acting=acting, name=name)
            case "choose":
                tries.choose(one, acting=acting)
            case "drop":
                return _dropped(request, one)
            case _:
                raise not_understood()
    except Refused as refusal:
        return _refused(request, one, refusal, goes_to="id-try-name")
    return sent_at_once(request, reverse("layout", args=[goes_on.pk]))


def _dropped(request: Visit, one: Layout) -> HttpResponse:
    tries.drop(one, acting=request.user)
    others = layouts_for(request.user).filter(project=one.project_id, plan=one.plan_id)
    next_one = others.order_by("-chosen", "-number").values_list("pk", flat=True).first()
    there = back_of(one) if next_one is None else reverse("layout", args=[next_one])
    if not wants_json(request):
        messages.success(request, _("The try is deleted."))
    return sent_at_once(request, there)


def _do(
    request: Visit, pk: int, deed: Deed, *, whole: bool = False, goes_to: str = "pieces"
) -> HttpResponse:
    one = layout_for(request.user, pk)
    judging.remember(one)
    try:
        after = deed(one)
    except Refused as refusal:
        return _refused(request, one, refusal, goes_to=goes_to)
    if wants_json(request):
        now = look(after)
        if whole:
            return JsonResponse({"state": whole_state(now, request.user)})
        return JsonResponse({"state": state_after(now, request.user.school)})
    _tell(request, after)
    names = ("which", "cut", "part")
    kept = {name: request.POST[name][:220] for name in names if request.POST.get(name)}
    asked = "?" + urlencode(kept) if kept else ""
    return redirect(f"{reverse('layout', args=[after.pk])}{asked}#table")


def _tell(request: Visit, after: Layout) -> None:
    """What the judge says, for a page that is loaded anew."""
    now = look(after)
    faults = state_after(now, request.user.school)["judged"]["faults"]
    key = (request.POST.get("which", "").rpartition("|")[0], _copy(request))
    own = [f for f in faults if key in ((f["piece"], f["copy"]), (f["other"], f["other_copy"]))]
    if own:
        messages.warning(request, own[0]["words"])
    elif any((p.piece, p.copy) == key for p in now.placements):
        label = labels_of_pieces(now.job).get(key, "")
        messages.success(request, _("%(piece)s lies without a fault.") % {"piece": label})
    elif faults:
        messages.warning(request, faults[0]["words"])
    else:
        messages.success(request, _("Done."))


def _copy(request: Visit) -> int:
    copy = request.POST.get("which", "").rpartition("|")[2]
    return int(copy) if copy.isascii() and copy.isdecimal() and len(copy) < 7 else -1


def _refused(request: Visit, one: Layout, refusal: Refused, *, goes_to: str) -> HttpResponse:
    """The rule in words, and how the layout really stands, so that the page can go back to it."""
    newest = layouts_for(request.user).filter(pk=one.pk).first()
    if not wants_json(request):
        if newest is None or isinstance(refusal, Closed) or not request.POST.get("do"):
            raise refusal
        wrong = Wrong("", str(refusal), goes_to=goes_to)
        return table_page(request, newest, typed=request.POST, wrong=wrong)
    answer: dict[str, Any] = {"text": str(refusal)}
    if newest is None:
        return JsonResponse(answer | {"go": back_of(one)}, status=410)
    if isinstance(refusal, Closed):
        return JsonResponse(answer | {"go": urls_of(newest)["page"]}, status=410)
    now = look(newest)
    state = whole_state(now, request.user)
    return JsonResponse(answer | {"state": state}, status=409)
