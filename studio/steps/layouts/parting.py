"""Parting cuts of a class plan's layout: added, moved, turned, taken away; a blank gets its size.

All are steps of the layout as moves of pieces are. What no cut can be is refused in words; whether
a cut is good, the judge says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.models import User
from classroom.refusals import Refused
from studio.core.cutting import Cut, Job, Placement
from studio.core.cutting.parting import MOST_CUTS, cuts_from_json, cuts_to_json
from studio.core.laying_out import parting
from studio.core.laying_out.laid import Key, is_near, spot_of
from studio.core.laying_out.parting import Line, Named, NoCut
from studio.models import Layout

from .change import State, as_one_step

MOST_OF_A_LAYOUT: Final = 120
"""Cuts of one layout: three for each student of the largest class."""

WHY: Final[Mapping[str, str]] = {
    "no-cut": gettext_noop("There is no such cut in this layout any more. Load the page again."),
    "no-part": gettext_noop("Choose a part that is not cut further."),
    "cut-further": gettext_noop(
        "What this cut parts is cut further. Take the cuts after it away first."
    ),
    "misses": gettext_noop("There the cut would miss the part that it goes through."),
    "one-point": gettext_noop("A cut runs from one edge to another."),
    "no-bound": gettext_noop(
        "No straight cut bounds this part that way: its edge is the metal’s own. Add a cut first."
    ),
    "too-many": gettext_noop("These are too many cuts for one layout."),
}

FIELDS: Final = ("parting", "parting_margin_mm", "strip_least_mm", "cut_longest_mm", "throat_mm")
"""What a job says of how its metal is parted."""


def parted_as(job: dict[str, Any], other: Mapping[str, Any]) -> dict[str, Any]:
    """A job whose metal is parted in the way of another one."""
    return job | {name: other[name] for name in FIELDS if name in other}


def add_cut(
    layout: Layout,
    part: Named,
    line: Callable[[Job, Sequence[Cut]], Line],
    *,
    acting: User,
    seen: int | None = None,
    key: str = "",
) -> Layout:
    """One more cut through a part that is not cut yet; `line` says where, of the newest state.

    Answers and refuses as `change.put` does.
    """

    def changed(job: Job, cuts: Sequence[Cut], _on: _On) -> _After:
        if len(cuts) >= min(MOST_OF_A_LAYOUT, MOST_CUTS):
            raise NoCut("too-many")
        return parting.added(job, cuts, part, line(job, cuts)), ()

    return _do(layout, changed, acting=acting, seen=seen, key=key)


def lay_cut(
    layout: Layout,
    named: Named,
    line: Callable[[Job, Sequence[Cut]], Line],
    *,
    acting: User,
    take_along: bool = False,
    seen: int | None = None,
    key: str = "",
) -> Layout:
    """This cut on another line. With `take_along`, and where the line is parallel, what lies on
    the side to which it goes comes along."""

    def changed(job: Job, cuts: Sequence[Cut], on: _On) -> _After:
        to = line(job, cuts)
        before = parting.line_of(cuts, named)
        if take_along and parting.leans(to, before.turn_deg) < parting.STRAIGHT_DEG:
            mm = before.off(to.at)
            return parting.taken_along(job, cuts, on.laid, named, mm, on.staying)
        return parting.laid_at(job, cuts, named, to), ()

    return _do(layout, changed, acting=acting, seen=seen, key=key)


def size_part(
    layout: Layout,
    part: Named,
    wide_mm: float | None,
    high_mm: float | None,
    *,
    acting: User,
    take_along: bool = False,
    seen: int | None = None,
    key: str = "",
) -> Layout:
    """A part so wide and so high, by moving the cuts that bound it; None: as it is."""

    def changed(job: Job, cuts: Sequence[Cut], on: _On) -> _After:
        after, shifts = parting.sized(job, cuts, part, wide_mm, high_mm)
        if not take_along:
            return after, ()
        now, moved = tuple(cuts), {(p.piece, p.copy): p for p in on.laid}
        gone: dict[Key, Placement] = {}
        for named, mm in shifts:
            now, along = parting.taken_along(job, now, moved.values(), named, mm, on.staying)
            gone |= {(p.piece, p.copy): p for p in along}
            moved |= gone
        return now, tuple(gone.values())

    return _do(layout, changed, acting=acting, seen=seen, key=key)


def remove_cut(
    layout: Layout, named: Named, *, acting: User, seen: int | None = None, key: str = ""
) -> Layout:
    """Take a cut away whose parts are not cut further."""

    def changed(_job: Job, cuts: Sequence[Cut], _on: _On) -> _After:
        return parting.removed(cuts, named), ()

    return _do(layout, changed, acting=acting, seen=seen, key=key)


@dataclass(frozen=True, slots=True)
class _On:
    """What lies there, and which of it is not moved by anything."""

    laid: Sequence[Placement]
    staying: Sequence[Key]


_After = tuple[tuple[Cut, ...], Sequence[Placement]]
_Deed = Callable[[Job, Sequence[Cut], _On], _After]


def _do(layout: Layout, deed: _Deed, *, acting: User, seen: int | None, key: str) -> Layout:
    def changed(row: Layout, state: State) -> dict[str, Any] | None:
        job = row.asked
        if job.parting is None:
            raise Refused(_("The metal of this layout is not parted, so it has no cuts."))
        before = cuts_from_json({"cuts": state.cuts})
        try:
            after, moved = deed(job, before, _On(row.laid, _staying(row)))
        except NoCut as no:
            raise Refused(_(WHY[no.code])) from None
        if not all(is_near(p) for p in moved):
            raise Refused(_("That place lies far off the table."))
        cuts = cuts_to_json(after)
        if cuts == state.cuts and not moved:
            return None
        step: dict[str, Any] = {
            "moved": [state.laid.put((p.piece, p.copy), spot_of(p)) for p in moved]
        }
        if cuts != state.cuts:
            step["cuts"] = [state.cuts, cuts]
            state.cuts = cuts
        return step

    return as_one_step(layout, changed, acting=acting, seen=seen, key=key)


def _staying(row: Layout) -> list[Key]:
    pinned = [(piece, copy) for piece, copy in row.pinned]
    return [*pinned, *((p.piece, p.copy) for p in row.asked.fixed)]
