"""Pieces of a layout are laid, moved, turned and put back; everything can be undone.

Every change is one step of the row's `past`: what lay where before and after, under "moved" (as
`studio.core.laying_out.laid` has it); "pins", "stock" and "cuts" with [before, after] stand beside
it where pins, stock pieces or parting cuts changed.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.models import History, User, record
from classroom.refusals import Refused
from studio.core.cutting import Placement
from studio.core.laying_out.laid import Key, Laid, is_near, spot_of
from studio.models import Layout
from studio.models.read_once import keep_read

from .may_lay import require_may_change
from .stock import RECTANGLES, Chosen, codes, metal_entries

MOST_AT_ONCE: Final = 400
MOST_STEPS: Final = 300
MOST_KEPT: Final = 600_000
"""So many characters may all steps of a layout have; the oldest are forgotten."""
KEY_LENGTH: Final = 40
ONE_SITTING: Final = dt.timedelta(minutes=30)

Step = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Move:
    """Where one copy of a piece is to lie; None: back in the tray."""

    piece: str
    copy: int
    to: Placement | None


@dataclass
class State:
    """What of a layout is changed by steps."""

    laid: Laid
    pinned: list[list[Any]]
    metal: list[dict[str, Any]]
    rectangles: dict[str, list[float]]
    cuts: list[dict[str, Any]]

    @classmethod
    def of(cls, row: Layout) -> State:
        rectangles = dict(row.figures.get(RECTANGLES, {}))
        pinned, cuts = list(row.pinned), list(row.cuts)
        return cls(Laid(row.placements), pinned, row.job["metal"], rectangles, cuts)


def made_elsewhere() -> str:
    return _(
        "This layout has been changed meanwhile, perhaps in another window. Nothing was lost: "
        "here it is as it stands now. Make your change again if you still want it."
    )


def deleted_meanwhile() -> str:
    return _("This try has been deleted meanwhile.")


def put(
    layout: Layout, moves: Sequence[Move], *, acting: User, seen: int | None = None, key: str = ""
) -> Layout:
    """Lay these pieces, all or none; one undo takes them back together.

    `seen` is the version that the person looked at, None where that does not matter. `key` names
    this sending: a page that heard no answer sends again, and is answered as if it had been heard
    the first time. Answers with the layout as it is now. Raises Refused (Closed where it is out of
    everybody's hands); then nothing is changed.
    """

    def changed(row: Layout, state: State) -> Step:
        if not 1 <= len(moves) <= MOST_AT_ONCE:
            raise Refused(_("Move 1 to %(most)s pieces at once.") % {"most": MOST_AT_ONCE})
        _refuse_unknown(row, moves)
        return {"moved": [state.laid.put((one.piece, one.copy), spot_of(one.to)) for one in moves]}

    return as_one_step(layout, changed, acting=acting, seen=seen, key=key)


def pin(
    layout: Layout,
    piece: str,
    copy: int,
    on: bool,
    *,
    acting: User,
    seen: int | None = None,
    key: str = "",
) -> Layout:
    """Pin a piece that lies, so that nobody and no search moves it; or let it go."""

    def changed(row: Layout, state: State) -> Step | None:
        _refuse_unknown_piece(row, piece, copy)
        if on and (piece, copy) not in state.laid.spots:
            raise Refused(_("A piece in the tray cannot be pinned. Lay it first."))
        before = list(state.pinned)
        rest = [one for one in before if one != [piece, copy]]
        state.pinned = [*rest, [piece, copy]] if on else rest
        if on == (len(rest) < len(before)):
            return None
        return {"moved": [], "pins": [before, state.pinned]}

    return as_one_step(layout, changed, acting=acting, seen=seen, key=key)


def use_stock(
    layout: Layout,
    chosen: Sequence[Chosen],
    *,
    acting: User,
    seen: int | None = None,
    key: str = "",
) -> Layout:
    """Lay out on these stock pieces from now on. What lay on others goes back to the tray."""
    entries, rectangles = metal_entries(layout, chosen)

    def changed(row: Layout, state: State) -> Step | None:
        if entries == state.metal and rectangles == state.rectangles:
            return None
        before = {"metal": state.metal, RECTANGLES: state.rectangles}
        after = {"metal": entries, RECTANGLES: rectangles}
        state.metal, state.rectangles = entries, rectangles
        there = set(codes(entries))
        lost = [key for key, spot in state.laid.spots.items() if spot[0] not in there]
        if set(lost) & {(p.piece, p.copy) for p in row.asked.fixed}:
            raise Refused(_("Pieces that are fixed lie on it, so it stays."))
        moved = [state.laid.put(key, None) for key in lost]
        step: Step = {"moved": moved, "stock": [before, after]}
        pins = [one for one in state.pinned if (one[0], one[1]) not in lost]
        if pins != state.pinned:
            step["pins"] = [state.pinned, pins]
            state.pinned = pins
        if (cuts := [cut for cut in state.cuts if cut["metal"] in there]) != state.cuts:
            step["cuts"] = [state.cuts, cuts]
            state.cuts = cuts
        return step

    return as_one_step(layout, changed, acting=acting, seen=seen, key=key)


def undo(layout: Layout, *, acting: User, seen: int | None = None, key: str = "") -> Layout:
    """Take the newest step back. Answers and refuses as `put` does."""
    return _stepped(layout, acting=acting, seen=seen, key=key, back=True)


def redo(layout: Layout, *, acting: User, seen: int | None = None, key: str = "") -> Layout:
    """Take the newest undo back. Answers and refuses as `put` does."""
    return _stepped(layout, acting=acting, seen=seen, key=key, back=False)


def as_one_step(
    layout: Layout,
    change: Callable[[Layout, State], Step | None],
    *,
    acting: User,
    seen: int | None,
    key: str,
) -> Layout:
    """What `change` does to the newest state, as one step of undo; None: nothing. Answers and
    refuses as `put` does."""
    with transaction.atomic():
        row = _newest(layout)
        if _was_heard(row, key):
            return row
        require_may_change(row, acting)
        _refuse_another_state(row, seen)
        state = State.of(row)
        step = change(row, state)
        if step is None or not (step["moved"] or len(step) > 1):
            return row
        return _store(row, state, _bounded([*row.past, step]), [], acting=acting, key=key)


def _stepped(layout: Layout, *, acting: User, seen: int | None, key: str, back: bool) -> Layout:
    with transaction.atomic():
        row = _newest(layout)
        if _was_heard(row, key):
            return row
        require_may_change(row, acting)
        _refuse_another_state(row, seen)
        past, future = list(row.past), list(row.future)
        if not (past if back else future):
            raise Refused(
                _("There is nothing to undo.") if back else _("There is nothing to redo.")
            )
        step = (past if back else future).pop()
        (future if back else past).append(step)
        state = State.of(row)
        side = 0 if back else 1
        state.laid.follow(step["moved"], back=back)
        if "pins" in step:
            state.pinned = step["pins"][side]
        if "stock" in step:
            state.metal = step["stock"][side]["metal"]
            state.rectangles = step["stock"][side][RECTANGLES]
        if "cuts" in step:
            state.cuts = step["cuts"][side]
        return _store(row, state, past, future, acting=acting, key=key)


def _newest(layout: Layout) -> Layout:
    """The row as it is now, with what the caller has loaded around it.

    What it is laid by is large, and is loaded and read again only where there is a newer state.
    """
    row = Layout.objects.filter(pk=layout.pk).defer("job").first()
    if row is None:
        raise Refused(deleted_meanwhile())
    row.project, row.plan, row.pattern = layout.project, layout.plan, layout.pattern
    if row.version == layout.version:
        row.job = layout.job
        keep_read(row, "job", row.job, layout.asked)
    if row.project is not None:
        row.project.refresh_from_db(fields=["stage"])
    return row


def _store(
    row: Layout,
    state: State,
    past: list[Step],
    future: list[Step],
    *,
    acting: User,
    key: str,
) -> Layout:
    seen = row.version
    row.placements = state.laid.placements()
    row.pinned, row.past, row.future = state.pinned, past, future
    row.cuts = state.cuts
    row.version, row.last_key, row.changed_at = seen + 1, key[:KEY_LENGTH], timezone.now()
    fields = ["placements", "cuts", "pinned", "past", "future", "version", "last_key"]
    fields.append("changed_at")
    if state.metal != row.job["metal"] or state.rectangles != row.figures.get(RECTANGLES, {}):
        row.job = row.job | {"metal": state.metal}
        row.figures = row.figures | {RECTANGLES: state.rectangles}
        fields += ["job", "figures"]
    same = Layout.objects.filter(pk=row.pk, version=seen, handed_in_at=None)
    done = same.update(**{name: getattr(row, name) for name in fields})
    if not done:
        raise Refused(made_elsewhere())
    _tell(row, acting)
    return row


def _bounded(steps: list[Step]) -> list[Step]:
    """The newest of them, as many as are kept."""
    kept: list[Step] = []
    weight = 0
    for step in reversed(steps[-MOST_STEPS:]):
        weight += len(json.dumps(step))
        if kept and weight > MOST_KEPT:
            break
        kept.append(step)
    return kept[::-1]


def _refuse_unknown(row: Layout, moves: Sequence[Move]) -> None:
    job = row.asked
    pinned = {(piece, copy) for piece, copy in row.pinned}
    fixed = {(p.piece, p.copy) for p in job.fixed}
    seen: set[Key] = set()
    for one in moves:
        _refuse_unknown_piece(row, one.piece, one.copy)
        key = (one.piece, one.copy)
        if key in seen:
            raise Refused(_("Each piece can only be moved once at a time."))
        seen.add(key)
        if key in pinned or key in fixed:
            raise Refused(_("This piece is pinned. Let it go first, then move it."))
        if one.to is None:
            continue
        if one.to.metal not in job.stock_by_id:
            raise Refused(_("That stock piece is not on this table."))
        if not is_near(one.to):
            raise Refused(_("That place lies far off the table."))


def _refuse_unknown_piece(row: Layout, piece: str, copy: int) -> None:
    wanted = row.asked.wanted_by_id.get(piece)
    if wanted is None or not 0 <= copy < wanted.count:
        raise Refused(_("There is no such piece in this layout. Load the page again."))


def _was_heard(row: Layout, key: str) -> bool:
    return bool(key) and row.last_key == key[:KEY_LENGTH]


def _refuse_another_state(row: Layout, seen: int | None) -> None:
    if seen is not None and seen != row.version:
        raise Refused(made_elsewhere())


def _tell(row: Layout, acting: User) -> None:
    """One row for a sitting of moves."""
    subject = row.project if row.project is not None else row.plan
    assert subject is not None
    detail: Mapping[str, Any] = {"layout": row.pk}
    newest = History.objects.about(subject).filter(verb="layout-changed").first()
    if (
        newest is not None
        and newest.actor_id == acting.pk
        and newest.detail == detail
        and newest.at > timezone.now() - ONE_SITTING
    ):
        return
    record(acting, "layout-changed", subject, f"moved pieces in layout {row.number}", **detail)
