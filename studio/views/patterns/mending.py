"""The section "A neater drawing" of a pattern's page: offers with pictures, a button for each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from classroom.models import School
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from studio.core.mending import Mend
from studio.models import Pattern
from studio.queries.patterns import pattern_for
from studio.steps.patterns import mend as mend_step

from .findings import exact_length
from .mend_picture import MendPicture, mend_picture

HEADINGS = {
    "straight": ("Nearly straight", "Straighten all of these"),
    "square": ("Nearly square corners", "Make all of these square"),
    "parallel": ("Nearly parallel sides", "Make all of these parallel"),
    "circle": ("Nearly circles", "Make all of these circles"),
    "ellipse": ("Nearly ellipses", "Make all of these ellipses"),
    "symmetric": ("Nearly symmetric", "Mirror all of these"),
    "smooth": ("Wobbly curves", "Smooth all of these"),
}
SHOWN = 2
"""So many offers of one kind are open; the others are folded away."""


@dataclass(frozen=True, slots=True)
class Offer:
    key: str
    sentence: str
    deed: str
    moved: str
    picture: MendPicture


@dataclass(frozen=True, slots=True)
class Kind:
    """All offers of one kind; `all_words` is empty where there is only one line."""

    code: str
    heading: str
    all_words: str
    shown: tuple[Offer, ...]
    folded: tuple[Offer, ...]


def neater(
    pattern: Pattern, school: School, *, may_change: bool, asked: bool
) -> dict[str, Any] | None:
    """What `studio/patterns/mend/mend.html` shows; None where there is nothing to say.

    A large drawing is only looked at when the student has `asked`, so that its page stays quick.
    """
    if not may_change:
        return None
    newest = mend_step.newest_mend(pattern)
    if not asked and not mend_step.known_or_quick(pattern):
        return {"kinds": [], "newest": newest, "ask": True}
    offers = mend_step.offered(pattern)
    if not offers and newest is None and not asked:
        return None
    codes = list(dict.fromkeys(offer.code for offer in offers))
    return {
        "kinds": [
            _kind(code, [each for each in offers if each.code == code], school) for code in codes
        ],
        "newest": newest,
    }


def _kind(code: str, members: Sequence[Mend], school: School) -> Kind:
    heading, all_words = HEADINGS[code]
    rows = tuple(
        Offer(
            mend.key,
            mend.sentence,
            mend.deed,
            exact_length(mend.moved_mm, school),
            mend_picture(mend, school),
        )
        for mend in members
    )
    lines = {mend.lines for mend in members}
    return Kind(
        code,
        heading,
        all_words if len(lines) > 1 else "",
        rows[:SHOWN],
        rows[SHOWN:],
    )


@requires(Action.DRAW_PATTERN)
@require_POST
def pattern_mend(request: Visit, pk: int) -> HttpResponse:
    """Do one offered mend (`mend` = its key), all of a kind (`all` = code), or `undo` the last."""
    pattern = pattern_for(request.user, pk)
    if "undo" in request.POST:
        after = mend_step.undo_mend(pattern, acting=request.user)
        messages.success(request, "The line is as it was before.")
    elif "all" in request.POST:
        after = mend_step.do_all(pattern, request.POST["all"], acting=request.user)
        messages.success(request, _done(after))
    elif "mend" in request.POST:
        after = mend_step.do_mend(pattern, request.POST["mend"], acting=request.user)
        messages.success(request, _done(after))
    else:
        raise Refused("Choose what is to be drawn more neatly.")
    return redirect(reverse("pattern", args=[after.pk]) + "?neater=1#neater")


def _done(after: Pattern) -> str:
    words = mend_step.newest_mend(after) or "done"
    return f"{words[0].upper()}{words[1:]}. The pattern was checked again."
