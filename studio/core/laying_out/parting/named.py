"""Which cut is meant: its stock piece, and its number there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studio.core.cutting import Cut


class NoCut(ValueError):
    """What was asked of a cut cannot be done. `code` says why: one of the words below.

    no-cut, no-part, cut-further, misses, one-point, no-bound, too-many
    """

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


@dataclass(frozen=True, slots=True)
class Named:
    """A cut, or a part, by its stock piece and number."""

    metal: str
    number: int


def number_among(cuts: Sequence[Cut], named: Named) -> int:
    """Where the cut stands among all. Raises NoCut."""
    at = [index for index, cut in enumerate(cuts) if cut.metal == named.metal]
    if not 0 <= named.number < len(at):
        raise NoCut("no-cut")
    return at[named.number]


def cut_of(cuts: Sequence[Cut], named: Named) -> Cut:
    return cuts[number_among(cuts, named)]
