"""Somebody lays out a practice sheet: pieces are laid and put back, undone, and begun again.

A row keeps what a person laid, and nothing of it is told to anybody: no history is written, no
teacher looks on. It is made with the first change. A step of `past` and `future` is {"moved": …} as
`studio.core.laying_out.laid` has it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.models import User
from classroom.refusals import Refused
from studio.core.cutting import Job, Placement
from studio.core.cutting.by_hand import placements_from_json
from studio.core.cutting.formats import measures_to_json
from studio.core.laying_out.laid import Laid, is_near, spot_of
from studio.core.practice import Sheet, is_whole, metal_mm2
from studio.core.verifying import Judgement
from studio.models import PracticeTry

from .change import KEY_LENGTH, MOST_AT_ONCE, Move, made_elsewhere

MOST_STEPS: Final = 200
"""So many steps can be undone; the oldest are forgotten."""

FIELDS: Final = ("placements", "past", "future", "version", "last_key", "changed_at")


def laid(own: PracticeTry) -> tuple[Placement, ...]:
    """Where the pieces lie."""
    said = {"placements": own.placements}
    return placements_from_json(said, "placements", most=MOST_AT_ONCE, within_mm=None)


def lay(
    sheet: Sheet, moves: Sequence[Move], *, acting: User, seen: int | None = None, key: str = ""
) -> PracticeTry:
    """Lay these pieces, all or none; one undo takes them back together.

    `seen` is the version that the person looked at, None where that does not matter. `key` names
    this sending: one that is heard twice is done once. Answers with the row as it is now. Raises
    Refused; then nothing is changed.
    """

    def changed(row: PracticeTry, now: Laid) -> None:
        _refuse_unknown(sheet.job, moves)
        step = [now.put((one.piece, one.copy), spot_of(one.to)) for one in moves]
        row.past, row.future = [*row.past, {"moved": step}][-MOST_STEPS:], []

    return _changed(sheet, changed, acting=acting, seen=seen, key=key)


def again(sheet: Sheet, *, acting: User, seen: int | None = None, key: str = "") -> PracticeTry:
    """Everything back in the tray; undo brings it back. The best layout so far stays told."""

    def changed(row: PracticeTry, now: Laid) -> None:
        if not now.spots:
            raise Refused(_("Nothing is laid yet."))
        step = [now.put(key, None) for key in list(now.spots)]
        row.past, row.future = [*row.past, {"moved": step}][-MOST_STEPS:], []

    return _changed(sheet, changed, acting=acting, seen=seen, key=key)


def undo(sheet: Sheet, *, acting: User, seen: int | None = None, key: str = "") -> PracticeTry:
    """Take the newest step back. Answers and refuses as `lay` does."""

    def changed(row: PracticeTry, now: Laid) -> None:
        if not row.past:
            raise Refused(_("There is nothing to undo."))
        *row.past, step = row.past
        row.future = [*row.future, step]
        now.follow(step["moved"], back=True)

    return _changed(sheet, changed, acting=acting, seen=seen, key=key)


def redo(sheet: Sheet, *, acting: User, seen: int | None = None, key: str = "") -> PracticeTry:
    """Take the newest undo back. Answers and refuses as `lay` does."""

    def changed(row: PracticeTry, now: Laid) -> None:
        if not row.future:
            raise Refused(_("There is nothing to redo."))
        *row.future, step = row.future
        row.past = [*row.past, step]
        now.follow(step["moved"], back=False)

    return _changed(sheet, changed, acting=acting, seen=seen, key=key)


def keep_best(sheet: Sheet, own: PracticeTry, judged: Judgement) -> PracticeTry:
    """Note a whole layout, and its figures where it is the person's best one so far.

    `judged` is what the judge says of the layout as the row has it.
    """
    if own.pk is None or not is_whole(judged):
        return own
    mm2 = metal_mm2(judged.measures)
    least: float | None = own.best.get("metal_mm2")
    if least is not None and mm2 >= least:
        return own
    with transaction.atomic():
        row = PracticeTry.objects.select_for_update().get(pk=own.pk)
        now = timezone.now()
        stands: float | None = row.best.get("metal_mm2")
        if stands is None or mm2 < stands:
            row.best = {"metal_mm2": round(mm2, 4)} | measures_to_json(judged.measures)
        row.whole_at = row.whole_at or now
        row.save(update_fields=["best", "whole_at"])
    own.best, own.whole_at = row.best, row.whole_at
    return own


def _changed(
    sheet: Sheet,
    change: Callable[[PracticeTry, Laid], None],
    *,
    acting: User,
    seen: int | None,
    key: str,
) -> PracticeTry:
    with transaction.atomic():
        row, _made = PracticeTry.objects.get_or_create(person=acting, sheet=sheet.code)
        if key and row.last_key == key[:KEY_LENGTH]:
            return row
        before = row.version
        if seen not in (None, before):
            raise Refused(made_elsewhere())
        now = Laid(row.placements)
        change(row, now)
        row.placements = now.placements()
        row.version, row.last_key, row.changed_at = before + 1, key[:KEY_LENGTH], timezone.now()
        stored = PracticeTry.objects.filter(pk=row.pk, version=before).update(
            **{name: getattr(row, name) for name in FIELDS}
        )
        if not stored:
            raise Refused(made_elsewhere())
        return row


def _refuse_unknown(job: Job, moves: Sequence[Move]) -> None:
    keys = [(one.piece, one.copy) for one in moves]
    if not 1 <= len(keys) <= MOST_AT_ONCE or len(set(keys)) < len(keys):
        raise Refused(_("Each piece can only be moved once at a time."))
    for one in moves:
        wanted = job.wanted_by_id.get(one.piece)
        if wanted is None or not 0 <= one.copy < wanted.count:
            raise Refused(_("This sheet has no such piece. Load the page again."))
        if one.to is not None and not (one.to.metal in job.stock_by_id and is_near(one.to)):
            raise Refused(_("That place lies far off the table."))
