"""Why a plan has not taken a student's layout: kept as a short word with a fact, told in any
language.

The student reads it too, so nobody else is named.
"""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext, gettext_noop

VERSION: Final = "version"
MISSING: Final = "missing"
METAL: Final = "metal"
GONE: Final = "gone"
CHANGED: Final = "changed"
NEAR: Final = "near"
NO_CUT: Final = "no-cut"
RULES: Final = "rules"
SERVER: Final = "server"
BY_HAND: Final = "by-hand"

SENTENCES: Final = {
    VERSION: gettext_noop(
        "The layout was laid for another version of the pattern, so the server laid these pieces."
    ),
    MISSING: gettext_noop(
        "Not every piece had its place on the layout, so the server laid these pieces."
    ),
    METAL: gettext_noop(
        "The layout was laid on another metal than this plan’s, so the server laid these pieces."
    ),
    GONE: gettext_noop(
        "The layout lies on %(what)s, which is not free on the rack any more, so the server laid "
        "these pieces."
    ),
    CHANGED: gettext_noop(
        "The record of %(what)s has been corrected since the layout was laid on it, so the "
        "server laid these pieces."
    ),
    NEAR: gettext_noop(
        "On %(what)s the layout comes too near to one that was handed in earlier, so the server "
        "laid these pieces."
    ),
    NO_CUT: gettext_noop(
        "This plan’s metal is parted first, and on %(what)s no straight cut runs clear between "
        "the layout and one that was handed in earlier, so the server laid these pieces."
    ),
    RULES: gettext_noop(
        "On %(what)s the layout does not keep this plan’s gap and edges, so the server laid "
        "these pieces."
    ),
    SERVER: gettext_noop("For this plan the server was asked to lay everything."),
    BY_HAND: gettext_noop("This plan was laid out by hand by a teacher."),
}


def told(reason: str, what: str = "") -> str:
    """The form in which a plan keeps it."""
    return f"{reason} {what}".strip()


def reason_of(kept: str) -> str:
    """The short word of what is kept."""
    return kept.partition(" ")[0]


def words_of(kept: str) -> str:
    """The sentence; empty where nothing is kept."""
    reason, _, what = kept.partition(" ")
    sentence = SENTENCES.get(reason)
    if sentence is None:
        return kept
    return gettext(sentence) % {"what": what} if "%(what)s" in sentence else gettext(sentence)
