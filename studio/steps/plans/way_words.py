"""Why a way cannot be gone, or was not: kept as a short word with a fact, told in any language."""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext, gettext_noop

NO_SHEAR: Final = "no-shear"
SHORT_SHEAR: Final = "short-shear"
SHORT_FRAME: Final = "short-frame"
NONE_PASSES: Final = "none-passes"
FAULT: Final = "fault"
LOST: Final = "lost"
DISK: Final = "disk"

SENTENCES: Final = {
    NO_SHEAR: gettext_noop("No shear stands among the tools of the room."),
    SHORT_SHEAR: gettext_noop("The shear’s longest cut does not go across any of this metal."),
    SHORT_FRAME: gettext_noop("The saw frame does not reach across any of this metal."),
    NONE_PASSES: gettext_noop("No plan was found that passes the check."),
    FAULT: gettext_noop(
        "A fault in the program stopped it, which has been written down for those who look after "
        "it."
    ),
    LOST: gettext_noop("It was begun several times, and what worked on it went away each time."),
    DISK: gettext_noop("There was no room on the server’s disk."),
}


def words_of(kept: str) -> str:
    """The sentence; what nobody here has written is shown as it is."""
    sentence = SENTENCES.get(kept)
    return kept if sentence is None else gettext(sentence)
