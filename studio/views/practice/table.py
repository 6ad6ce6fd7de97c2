"""A practice sheet on the layout table: its page, and everything that is done on it.

The script and plain forms send to the same addresses. A script is answered with what is other now,
a plain form with the page itself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from classroom.figures.units import Units
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from classroom.refused_forms import Wrong
from classroom.wording.chosen_language import language_links, shown_in_chosen_language
from studio.core.practice import Sheet, is_whole
from studio.forms.layouts.changing import moves_asked, piece_of, sending
from studio.forms.layouts.moving import move_asked
from studio.models import PracticeTry
from studio.queries.practice import practice_try_for
from studio.steps.layouts import practice as steps
from studio.views.house.sure_send import wants_json
from studio.views.layouts.shown import forms_context

from .compared import compared
from .desk import looked, state_after, state_of
from .sheets import sheet_called

Deed = Callable[[Sheet], PracticeTry]


@requires(Action.PRACTISE)
@never_cache
@require_GET
@shown_in_chosen_language
def practice_sheet(request: Visit, sheet: str) -> HttpResponse:
    """The table with what the person has laid so far."""
    return _page(request, sheet_called(sheet))


def _page(
    request: Visit, sheet: Sheet, typed: QueryDict | None = None, wrong: Wrong | None = None
) -> HttpResponse:
    user = request.user
    own = practice_try_for(user, sheet.code)
    now = looked(sheet, own)
    try:
        which = piece_of(request.GET if typed is None else typed)
    except Refused:
        which = None
    state = state_of(sheet, now, user.school)
    assert sheet.job.hands is not None
    context: dict[str, Any] = forms_context(
        now, state, user.school, which, typed=typed, wrong=wrong
    ) | {
        "sheet": sheet,
        "heading": f"{sheet.number}. {_(sheet.title)}",
        "hands": sheet.job.hands,
        "is_whole": is_whole(now.judgement),
        "was_whole": own.whole_at is not None,
        "languages": language_links(request, get_language() or "en"),
        "crumbs": [
            {"label": _("Practise laying out"), "url": reverse("practice")},
            {"label": _(sheet.title)},
        ],
    }
    status = 200 if wrong is None else 422
    return render(request, "studio/practice/sheet.html", context, status=status)


@requires(Action.PRACTISE)
@require_POST
@shown_in_chosen_language
def practice_change(request: Visit, sheet: str) -> HttpResponse:
    """Pieces laid, moved or put back (`changes` as JSON), all or none."""
    return _do(
        request,
        sheet,
        lambda one: steps.lay(
            one, moves_asked(request.POST), **sending(request.user, request.POST)
        ),
    )


@requires(Action.PRACTISE)
@require_POST
@shown_in_chosen_language
def practice_undo(request: Visit, sheet: str) -> HttpResponse:
    return _do(request, sheet, lambda one: steps.undo(one, **sending(request.user, request.POST)))


@requires(Action.PRACTISE)
@require_POST
@shown_in_chosen_language
def practice_redo(request: Visit, sheet: str) -> HttpResponse:
    return _do(request, sheet, lambda one: steps.redo(one, **sending(request.user, request.POST)))


@requires(Action.PRACTISE)
@require_POST
@shown_in_chosen_language
def practice_again(request: Visit, sheet: str) -> HttpResponse:
    """Everything back in the tray."""
    return _do(request, sheet, lambda one: steps.again(one, **sending(request.user, request.POST)))


@requires(Action.PRACTISE)
@require_POST
@shown_in_chosen_language
def practice_place(request: Visit, sheet: str) -> HttpResponse:
    """One piece laid without dragging: `do` says how (place, at, turn, mirror, tray)."""

    def placed(one: Sheet) -> PracticeTry:
        own = practice_try_for(request.user, one.code)
        unit = Units(request.user.school.units).typed
        move = move_asked(request.POST, unit, one.job, steps.laid(own))
        return steps.lay(one, [move], **sending(request.user, request.POST))

    return _do(request, sheet, placed)


@requires(Action.PRACTISE)
@require_GET
@shown_in_chosen_language
def practice_known(request: Visit, sheet: str) -> HttpResponse:
    """The known answer beside one's own layout, once that has been whole; for teachers at once."""
    one = sheet_called(sheet)
    own = practice_try_for(request.user, one.code)
    if not _may_compare(request, own):
        first = _("Lay all pieces without fault first. Then the known answer is shown.")
        messages.info(request, first)
        return redirect("practice_sheet", sheet=one.code)
    now = looked(one, own)
    context = compared(one, now.placements, now.judgement, request.user.school)
    context["crumbs"] = [
        {"label": _("Practise laying out"), "url": reverse("practice")},
        {"label": _(one.title), "url": reverse("practice_sheet", args=[one.code])},
        {"label": _("Known answer")},
    ]
    return render(request, "studio/practice/compared.html", context)


def _may_compare(request: Visit, own: PracticeTry) -> bool:
    return own.whole_at is not None or request.user.is_teacher


def _do(request: Visit, code: str, deed: Deed) -> HttpResponse:
    sheet = sheet_called(code)
    try:
        own = deed(sheet)
    except Refused as refusal:
        return _refused(request, sheet, refusal)
    now = looked(sheet, own, with_change=True)
    own = steps.keep_best(sheet, own, now.judgement)
    if wants_json(request):
        return JsonResponse({"state": state_after(now, request.user.school)})
    if is_whole(now.judgement):
        messages.success(request, _("All pieces are laid. Now compare with the known answer."))
    which = request.POST.get("which", "")
    asked = "?" + urlencode({"which": which[:220]}) if which else ""
    return redirect(f"{reverse('practice_sheet', args=[sheet.code])}{asked}#picture")


def _refused(request: Visit, sheet: Sheet, refusal: Refused) -> HttpResponse:
    """The rule in words, and how the try really stands, so that the page can go back to it."""
    if not wants_json(request):
        if not request.POST.get("do"):
            raise refusal
        return _page(request, sheet, request.POST, Wrong("", str(refusal), goes_to="id-place"))
    own = practice_try_for(request.user, sheet.code)
    state = state_of(sheet, looked(sheet, own), request.user.school)
    return JsonResponse({"text": str(refusal), "state": state}, status=409)
