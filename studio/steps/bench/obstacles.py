"""What may stand in the way of a step, and the words in which it is told."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Rule(StrEnum):
    """What has to hold before a step goes on."""

    METAL = "metal"  # the project is at the bench, with its metal
    ORDER = "order"  # the step before is done
    PERMIT = "permit"  # bench permits are in force today
    START = "start"  # a step is started before it is signed as done
    WAIT = "wait"  # drying and soaking take their time
    SIGNATURE = "signature"  # the student signs before the teacher checks
    # where metal is shared
    BLANK = "blank"  # the sheet is parted, and the student has a blank of own
    LAYOUT = "layout"  # the pieces lie on the blank as it came out
    STOCK = "stock"  # what is done once for the whole stock piece is done
    STUCK = "stuck"  # everybody's papers are on it
    HOLDER = "holder"  # the metal is in the student's own hands
    PAPERS = "papers"  # papers that were added on it are dry

    @property
    def may_be_set_aside(self) -> bool:
        """Whether a teacher may let it rest: not where there is no metal to work on, and none
        that is another's."""
        return self not in _ALWAYS


_ALWAYS = frozenset({Rule.METAL, Rule.BLANK, Rule.LAYOUT, Rule.STOCK, Rule.STUCK, Rule.HOLDER})


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One rule in the way; `text` says what is missing and who can help."""

    rule: Rule
    text: str
    permit: str = ""  # code of the safety topic

    @property
    def name(self) -> str:
        """As it is recorded when a teacher sets it aside."""
        return f"{self.rule}:{self.permit}" if self.permit else str(self.rule)
