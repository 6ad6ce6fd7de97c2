"""A tablet at the bench: the class list, one student's present step, and back to the list."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.contrib.auth import authenticate, logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language, gettext_noop
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_POST

from classroom.languages import known
from classroom.models import Seat
from classroom.permissions import Action, Visit, requires
from classroom.queries import course_for
from classroom.refusals import Refused
from classroom.signin import LONGEST_PASSPHRASE, pause_of, wait_in_words
from classroom.signin.private_pages import forget_pages
from classroom.wording.chosen_language import language_links, shown_in_chosen_language
from studio.models import BenchStep, BenchTablet, StockStep, TabletDeed
from studio.models.step_row import StepRow
from studio.queries.bench import bench_step_on, seat_on, seats_on, stock_step_on, tablet_for
from studio.steps.bench import rules as bench_rules
from studio.steps.bench.tablet import close_tablet, open_tablet, sign_on_tablet
from studio.steps.sharing.tablet import sign_common_on_tablet
from studio.views.house.sure_send import sent_at_once, wants_json

from .tablet_door import AtTheBench, hand_over, on_bench_tablet
from .tablet_page import at_work

What = TabletDeed.What
WRONG = gettext_noop("This passphrase does not go with this name. It is on your sign-in card.")
PAUSED = gettext_noop(
    "There were too many tries with a wrong passphrase. Wait %(time)s and try again, or ask your "
    "teacher for a new sign-in card."
)


@requires(Action.CHECK_BENCH_STEP)
@require_POST
def tablet_open(request: Visit, course_pk: int) -> HttpResponse:
    """Make this very device a bench tablet; the teacher is signed out on it."""
    course = course_for(request.user, course_pk)
    tablet, secret = open_tablet(course, acting=request.user)
    logout(request)
    response = redirect("tablet")
    hand_over(response, tablet, secret)
    forget_pages(request, response)
    return response


@requires(Action.CHECK_BENCH_STEP)
@require_POST
@shown_in_chosen_language
def tablet_close(request: Visit, pk: int) -> HttpResponse:
    tablet = tablet_for(request.user, pk)
    close_tablet(tablet, acting=request.user)
    messages.success(request, _("The bench tablet is closed. It opens nothing from now on."))
    return redirect("class_bench", tablet.course_id)


@on_bench_tablet
@require_GET
def tablet(request: AtTheBench) -> HttpResponse:
    """The class as large buttons, those who work at the bench first."""
    works = at_work(request.tablet)
    people = [{"seat": seat, "works": works.get(seat.pk, [])} for seat in seats_on(request.tablet)]
    context = _context(request) | {
        "people": [one for one in people if one["works"]],
        "idle": [one["seat"] for one in people if not one["works"]],
    }
    return render(request, "studio/bench/tablet/class_list.html", context)


@on_bench_tablet
@require_GET
def tablet_seat(request: AtTheBench, seat_pk: int) -> HttpResponse:
    return _seat_page(request, seat_on(request.tablet, seat_pk))


@on_bench_tablet
@sensitive_post_parameters("passphrase")
@require_POST
def tablet_sign(request: AtTheBench, seat_pk: int) -> HttpResponse:
    """Start or sign one step by passphrase; nobody is signed in, before or after."""
    seat = seat_on(request.tablet, seat_pk)
    sent = _sent(request)
    if sent is None:
        return _answer(request, seat, _("Something is missing from this form. Try again."), 400)
    step_pk, what, key = sent
    common = request.POST.get("common", "") == "1"
    step: StepRow = (
        stock_step_on(request.tablet, seat, step_pk)
        if common
        else bench_step_on(request.tablet, seat, step_pk)
    )
    if not _passphrase_is_right(request, seat):
        pause = pause_of(request)
        if pause is not None:
            return _answer(request, seat, _(PAUSED) % {"time": wait_in_words(pause)}, 429)
        return _answer(request, seat, _(WRONG), 422)
    try:
        done = _deed(request.tablet, step, what=what, key=key, acting=seat.student)
    except Refused as refusal:
        return _answer(request, seat, str(refusal), 409)
    messages.success(request, _said(done, what, str(seat.student)))
    return sent_at_once(request, reverse("tablet"))


def _deed(tablet: BenchTablet, step: StepRow, **deed: Any) -> StepRow:
    if isinstance(step, StockStep):
        return sign_common_on_tablet(tablet, step, **deed)
    assert isinstance(step, BenchStep)
    return sign_on_tablet(tablet, step, **deed)


def _sent(request: HttpRequest) -> tuple[int, str, uuid.UUID] | None:
    pk, what = request.POST.get("step", ""), request.POST.get("what", "")
    if not (pk.isascii() and pk.isdigit() and len(pk) < 16) or what not in What.values:
        return None
    try:
        return int(pk), what, uuid.UUID(request.POST.get("key", "")[:36])
    except ValueError:
        return None


def _passphrase_is_right(request: AtTheBench, seat: Seat) -> bool:
    """Tries are counted for this tablet, and with those at sign-in; nobody is signed in."""
    typed = request.POST.get("passphrase", "")
    if not typed or len(typed) > LONGEST_PASSPHRASE:
        return False
    student = seat.student
    found = authenticate(
        request,
        username=student.username,
        password=typed,
        device=f"bench tablet {request.tablet.pk}",
    )
    return found is not None and found.pk == student.pk


def _said(step: StepRow, what: str, name: str) -> str:
    if what == What.START:
        if step.wait_until is not None:
            until = bench_rules.clock_at_end(step.wait_until, timezone.localtime())
            text = _("%(name)s: “%(step)s” is started. It can be signed from %(time)s.")
            return text % {"name": name, "step": bench_rules.title(step), "time": until}
        text = _("%(name)s: “%(step)s” is started.")
    elif what == What.STUCK:
        text = _("%(name)s: your papers are signed as stuck on.")
    elif step.done_at is None and step.student_signed_at is not None:
        text = _("%(name)s: “%(step)s” is signed. Show it to your teacher now.")
    else:
        text = _("%(name)s: “%(step)s” is signed.")
    return text % {"name": name, "step": bench_rules.title(step)}


def _answer(request: AtTheBench, seat: Seat, text: str, status: int) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"text": text}, status=status)
    return _seat_page(request, seat, text, status)


def _seat_page(
    request: AtTheBench, seat: Seat, complaint: str = "", status: int = 200
) -> HttpResponse:
    works = at_work(request.tablet, seat).get(seat.pk, [])
    context = _context(request) | {"seat": seat, "works": works, "complaint": complaint}
    return render(request, "studio/bench/tablet/seat.html", context, status=status)


def _context(request: AtTheBench) -> dict[str, Any]:
    tablet = request.tablet
    language = get_language() or "en"
    return {
        "tablet": tablet,
        "course": tablet.course,
        "school": tablet.course.school,
        "nav": [],
        "lang": language,
        "sections": language_links(request, language),
        "usual_lang": known(tablet.course.school.language),
    }
