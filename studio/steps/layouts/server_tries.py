"""What somebody at a layout asks of the server: it lays all, or the rest, or looks for better.

What comes of it is a try of its own beside the others; the person's own is never touched. Asked
for twice in the same state it is searched once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.languages import LANGUAGES, in_language
from classroom.models import User
from classroom.refusals import Busy, Refused
from studio.core.cutting import Job, Placement, Plan, plan_from_json
from studio.core.cutting.by_hand import placement_to_json
from studio.core.cutting.parting import cuts_to_json
from studio.core.verifying import Fault, faults
from studio.models import Layout, PlanProject, TrialLayout

from . import trial_lease as lease
from .begin import MOST_TRIES, add_try
from .may_lay import why_no_tries, why_plan_is_fixed
from .stock import RECTANGLES
from .trial import MOST_OPEN, digest_of, start

Wish = TrialLayout.Wish
MOST_SEARCHES_KEPT: Final = 3
"""Of one wish for one layout, besides those whose try is there still."""
WISHES: Final = (Wish.WHOLE, Wish.REST, Wish.IMPROVE, Wish.NEAREST)


def name_of_wish(wish: str) -> str:
    """What a try is called that came of this wish, in the language that is on."""
    return {
        Wish.WHOLE: _("Laid by the server"),
        Wish.REST: _("The rest laid by the server"),
        Wish.IMPROVE: _("Improved by the server"),
        Wish.NEAREST: _("The nearest without fault"),
    }[Wish(wish)]


def ask_server(
    layout: Layout,
    wish: str,
    *,
    acting: User,
    words: Callable[[Fault], str] = lambda fault: fault.message,
) -> TrialLayout:
    """Ask for it, or for what came of it where that was asked before.

    `words` tells a fault to the person. Raises Busy where the person has `MOST_OPEN` searches
    under way, Refused where there is nothing to lay, nothing may be laid (any more), or what is to
    stay where it lies is not good.
    """
    _require_sense(layout, wish, acting, words)
    key = key_of(layout, wish)
    found = TrialLayout.objects.filter(layout=layout, wish=wish, key=key).first()
    if found is not None and found.state == lease.DONE:
        return _made_again(found)
    if found is not None and found.is_open:
        return found
    with transaction.atomic():
        # Held, so that two windows of one person do not both take the last place.
        User.objects.select_for_update(no_key=True).get(pk=acting.pk)
        mine = TrialLayout.objects.filter(asked_by=acting, state__in=TrialLayout.OPEN)
        if mine.count() >= MOST_OPEN:
            raise Busy(_("The server is laying two things for you already. Wait for one of them."))
        _giving_way(layout)
        if found is not None:
            lease.begin_anew(found)
            trial = found
        else:
            trial, _made = TrialLayout.objects.get_or_create(
                layout=layout, wish=wish, key=key, defaults={"asked_by": acting}
            )
        _forget_older(trial)
        start(trial)
    trial.refresh_from_db()
    return trial


def key_of(layout: Layout, wish: str) -> str:
    """The whole is laid once for the same job and pins; the others follow what lies now."""
    if wish == Wish.WHOLE:
        pinned = sorted([str(piece), int(copy)] for piece, copy in layout.pinned)
        lies = [placement_to_json(p) for p in layout.laid if [p.piece, p.copy] in pinned]
        return digest_of([layout.job, lies])
    return str(layout.version)


def newest_trial(layout: Layout, wish: str = "") -> TrialLayout | None:
    """The newest thing asked of the server for this layout, as it lies now or lay before."""
    asked = TrialLayout.objects.filter(layout=layout).select_related("made")
    return (asked.filter(wish=wish) if wish else asked).order_by("-asked_at", "-pk").first()


def keep_try(trial: TrialLayout, plan: Plan) -> Layout:
    """What came of it as a try of its own, within the transaction that ends the search.

    Raises Refused where tries are too many.
    """
    layout, acting = trial.layout, trial.asked_by
    assert layout is not None
    assert acting is not None
    _make_room(layout)
    rectangles = layout.figures.get(RECTANGLES, {})
    made = add_try(
        layout.job,
        acting=acting,
        project=layout.project,
        plan=layout.plan,
        pattern=layout.pattern,
        placements=[placement_to_json(p) for p in plan.placements],
        cuts=cuts_to_json(plan.cuts),
        name=name_of_wish(trial.wish),
        origin=Layout.Origin.SERVER,
        pinned=layout.pinned,
        figures={RECTANGLES: rectangles} if rectangles else {},
    )
    TrialLayout.objects.filter(pk=trial.pk).update(made=made)
    return made


def staying(layout: Layout, wish: str) -> tuple[Placement, ...]:
    """What is not moved for a wish: all that lies where the rest is wished for, else what is
    pinned."""
    laid = layout.laid
    if wish == Wish.REST:
        return laid
    pinned = {(str(piece), int(copy)) for piece, copy in layout.pinned}
    return tuple(p for p in laid if (p.piece, p.copy) in pinned)


def undivided(job: Job) -> Job:
    """The same without parting: how pieces that stay lie is told by themselves, as the server
    makes the cuts anew."""
    return replace(job, parting=None)


def _make_room(layout: Layout) -> None:
    oldest = _giving_way(layout)
    if oldest is not None:
        oldest.delete()


def _giving_way(layout: Layout) -> Layout | None:
    """Where tries are as many as there may be, the oldest that the server has laid and nobody has
    touched, named or chosen. Raises Refused where there is none."""
    tries = Layout.objects.filter(project=layout.project_id, plan=layout.plan_id)
    if tries.count() < MOST_TRIES:
        return None
    kept = PlanProject.objects.exclude(layout=None).values("layout")
    untouched = tries.filter(
        origin=Layout.Origin.SERVER,
        chosen=False,
        handed_in_at=None,
        version=0,
        name__in=_names_of_wishes(),
    )
    oldest = untouched.exclude(pk__in=kept).exclude(pk=layout.pk).order_by("pk").first()
    if oldest is None:
        raise Refused(
            _("There are %(most)s tries already. Delete one first.") % {"most": MOST_TRIES}
        )
    return oldest


def _names_of_wishes() -> list[str]:
    names = []
    for language in LANGUAGES:
        with in_language(language):
            names += [name_of_wish(wish) for wish in WISHES]
    return names


def _forget_older(newest: TrialLayout) -> None:
    """What was asked before in other states, and has left no try, is kept for a while only."""
    older = TrialLayout.objects.filter(layout=newest.layout_id, wish=newest.wish, made=None)
    over = older.exclude(pk=newest.pk).exclude(state__in=TrialLayout.OPEN).order_by("-pk")
    kept = list(over.values_list("pk", flat=True)[: MOST_SEARCHES_KEPT - 1])
    over.exclude(pk__in=kept).delete()


def _made_again(trial: TrialLayout) -> TrialLayout:
    """The try that came of it; laid down once more where it was deleted meanwhile."""
    if trial.made_id is None and trial.answer is not None:
        with transaction.atomic():
            keep_try(trial, plan_from_json(trial.answer))
        trial.refresh_from_db()
    return trial


def _require_sense(layout: Layout, wish: str, acting: User, words: Callable[[Fault], str]) -> None:
    if wish not in WISHES:
        raise Refused(_("The server knows no such wish."))
    if layout.plan is not None:
        why = why_plan_is_fixed(layout.plan)
    else:
        assert layout.project is not None
        why = why_no_tries(layout.project, acting)
    if why:
        raise Refused(why)
    laid = layout.laid
    if wish != Wish.WHOLE and not laid:
        raise Refused(_("Nothing lies yet. Lay a piece first, or let the server lay them all."))
    if wish == Wish.NEAREST and not faults(layout.asked, laid, layout.parted):
        raise Refused(_("Nothing is wrong with this layout, so it is the nearest one itself."))
    wrong = faults(undivided(layout.asked), staying(layout, wish))
    if wish == Wish.REST and len(laid) >= layout.asked.copies:
        raise Refused(_("All pieces lie already. Let the server look for a better layout."))
    if wrong:
        raise Refused(_not_good(wish) % {"fault": words(wrong[0])})


def _not_good(wish: str) -> str:
    if wish == Wish.REST:
        return _("The rest is laid round what lies, so that must be good first: %(fault)s")
    return _("Pieces that are pinned stay where they lie, so that must be good first: %(fault)s")
