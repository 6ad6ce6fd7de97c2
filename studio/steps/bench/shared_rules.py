"""What do a project's steps ask of metal that it shares with others?

Pure, as `rules`, which asks it. The metal is needed until all own pieces are sawn out of it: from
then on the student has them in hand, whoever has the rest.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from studio.core.bench.texts import BenchStepKind
from studio.models import BenchStep, StockStep

from .obstacles import Obstacle, Rule

WITH_DRY_PAPERS = frozenset({BenchStepKind.DRILL, BenchStepKind.SAW})


@dataclass(frozen=True, slots=True)
class Holder:
    """In whose hands a stock piece is, since when: by their share and letter; with neither, on the
    shelf."""

    since: dt.datetime
    share: int | None = None
    letter: str = ""


@dataclass(frozen=True, slots=True)
class SharedPiece:
    """A stock piece with pieces of several students, as one of them meets it.

    `steps` are those done once for the whole of it, in order. `holder` is None where nobody has
    been named yet: that stops nobody. `mine` says that it is in the student's own hands.
    """

    plan_stock: int
    code: str
    steps: tuple[StockStep, ...] = ()
    holder: Holder | None = None
    mine: bool = False

    @property
    def open_step(self) -> StockStep | None:
        """The first of its own steps that is not done."""
        return next((step for step in self.steps if step.done_at is None), None)

    def is_needed_for(self, step: BenchStep) -> bool:
        """Whether the step is done on this metal: what the whole stock piece has had, is not."""
        return all(step.kind != one.kind for one in self.steps)


@dataclass(frozen=True, slots=True)
class SharedMetal:
    """How a project's metal is shared, at one moment.

    `to_part` says that its sheet is still to be parted, `lay_anew` that its blank came out so
    that its layout does not hold, `wet_papers` that papers added to its metal are not dry yet.
    `turn` is its place in the order of sawing, from 1, or 0.
    """

    to_part: bool = False
    lay_anew: bool = False
    wet_papers: bool = False
    pieces: tuple[SharedPiece, ...] = ()
    share: int | None = None
    letter: str = ""
    turn: int = 0


NOT_SHARED = SharedMetal()


def in_the_way(
    step: BenchStep, steps: Sequence[BenchStep], shared: SharedMetal, aside: frozenset[str]
) -> list[Obstacle]:
    """What keeps a step of these `steps` from being started, in the metal that it shares."""
    if any(one.kind == BenchStepKind.SAW and one.done_at is not None for one in steps):
        return []
    if shared.to_part:
        text = _("The sheet is parted first: the steps begin when you have your own blank.")
        return [Obstacle(Rule.BLANK, text)]
    if shared.lay_anew:
        text = _(
            "Your blank came out otherwise than planned, so your pieces are laid on it anew first. "
            "Ask your teacher."
        )
        return [Obstacle(Rule.LAYOUT, text)]
    found = []
    for piece in shared.pieces:
        if piece.is_needed_for(step):
            found += _of_the_piece(piece, shared)
    if shared.wet_papers and step.kind in WITH_DRY_PAPERS and Rule.PAPERS not in aside:
        text = _("Papers that were added to this metal are not dry yet. Wait for them, then go on.")
        found.append(Obstacle(Rule.PAPERS, text))
    return found


def _of_the_piece(piece: SharedPiece, shared: SharedMetal) -> list[Obstacle]:
    waits = piece.open_step
    if waits is not None:
        text = _(
            "“%(step)s” of %(code)s is not done yet: it is done once for all who share this metal."
        )
        said = {"step": waits.title_in(get_language() or "en"), "code": piece.code}
        return [Obstacle(Rule.STOCK, text % said)]
    if piece.holder is None or piece.mine:
        return []
    if piece.holder.share is None:
        text = _("%(code)s lies on the shelf. A teacher hands it on when it is your turn.")
        return [Obstacle(Rule.HOLDER, text % {"code": piece.code})]
    text = _("Student %(letter)s has %(code)s now. A teacher hands it on when it is your turn.")
    said = {"code": piece.code, "letter": piece.holder.letter}
    return [Obstacle(Rule.HOLDER, text % said)]
