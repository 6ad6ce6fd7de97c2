"""What the step says by which a stock piece is parted into blanks, in our own words.

Data only, worded for the tool of the room. Common practice where no source stands beside it.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from inventory.metals import ENGLISH, Say

from .planned import PlannedBenchStep
from .texts import DEFERRAL, Mistake, StockStepKind


class PartTool(StrEnum):
    """With what metal is parted."""

    HAND = "hand"
    FOOT = "foot"
    POWER = "power"
    SAW = "saw"


TITLE: Final = "Part the metal into blanks"

PERMITS: Final[dict[PartTool, tuple[str, ...]]] = {
    PartTool.HAND: ("hand-shears", "files-sharp-edges"),
    PartTool.FOOT: ("foot-guillotine", "files-sharp-edges"),
    PartTool.POWER: (),
    PartTool.SAW: ("saw-frame", "files-sharp-edges"),
}
"""Codes of safety topics. A power-driven guillotine is the teacher's alone, so it asks for none."""

CLEAN_CUTS: Final = frozenset({PartTool.FOOT, PartTool.POWER})
"""Tools whose edge is clean once the burr is filed off; the others leave a rough one."""

_CUT: Final[dict[PartTool, str]] = {
    PartTool.HAND: "Cut along the line at the bench shears, the sheet supported on both sides. "
    "Open the blades before they close all the way, so that they leave no step.",
    PartTool.FOOT: "Lay the line under the guillotine's edge, against the fence. Take both hands "
    "behind the guard, look that nobody is near, then press the pedal down to the end.",
    PartTool.POWER: "The teacher alone works the power-driven guillotine and makes every cut. "
    "Everybody else stays behind the line that your school has drawn.",
    PartTool.SAW: "Saw along the line with the saw frame, from edge to edge, the blade in the "
    "middle of the line. The sheet lies flat on the pin and is held beside the cut.",
}

DO_BEFORE: Final = (
    "Take the parting sheet. It has every cut in order, measured from the edges.",
    "Mark the two ends of the first cut with a rule and a scriber, and draw the line between them.",
    "Check both measures once more before you cut. Metal that is cut wrong stays cut.",
)
DO_AFTER: Final = (
    "Go on with the next cut on the sheet, in the order of the numbers, until the last is made.",
    "File the burr off every cut edge and blunt the corners.",
    "Lay bent blanks on a flat plate and tap them flat with a mallet.",
    "Write its letter, or stick its label, on every part at once, before they are mixed up.",
    "Measure each part, width and height, and enter what you measured.",
)
RIGHT_WHEN: Final = (
    "Every part measures as on the parting sheet, within 0.2 mm.",
    "A part laid on a flat plate does not rock, and its edges catch no cotton wool.",
    "Every part carries its letter or its label.",
)
MISTAKES: Final = (
    Mistake(
        "A part is too small or slants",
        "The line was drawn from the wrong edge, or moved under the tool.",
        "Enter the true size and why. The layout is checked on it, and laid anew where it no "
        "longer fits.",
    ),
    Mistake(
        "Two parts are mixed up",
        "They were cut first and marked later.",
        "Measure both, find them on the parting sheet, and mark them now.",
    ),
)
CAUTIONS: Final = (
    "Fresh cut edges and corners are sharp. Hold the metal flat, and file before you pass it on.",
    "Only one person works at the tool, and knows where both hands are before every cut.",
    "Wear eye protection: narrow strips jump as they come off.",
)
POWER_CAUTION: Final = (
    "In many places the law keeps minors away from power-driven guillotines altogether. Local law "
    "and your school's policy decide who may be near."
)
MINORS_CAUTION: Final = (
    "Local law on minors and your school's policy say who may use this tool. They come before "
    "this page."
)
NEEDS: Final = (
    "parting sheet",
    "steel rule, square and scriber",
    "flat file",
    "mallet and flat plate",
    "labels or a marker",
)
_NEEDED: Final[dict[PartTool, str]] = {
    PartTool.HAND: "bench shears",
    PartTool.FOOT: "foot guillotine",
    PartTool.POWER: "power-driven guillotine, worked by the teacher",
    PartTool.SAW: "saw frame with blades",
}


def part_step(tool: PartTool, metal: str, say: Say = ENGLISH) -> PlannedBenchStep:
    """The step of a stock piece that is parted with this tool; `metal` names it."""
    minors = POWER_CAUTION if tool is PartTool.POWER else MINORS_CAUTION
    return PlannedBenchStep(
        kind=StockStepKind.PART,
        title=say(TITLE),
        do=tuple(say(text) for text in (*DO_BEFORE, _CUT[tool], *DO_AFTER)),
        right_when=tuple(map(say, RIGHT_WHEN)),
        usual_mistakes=tuple(
            Mistake(say(one.what), say(one.cause), say(one.mend)) for one in MISTAKES
        ),
        cautions=(*map(say, CAUTIONS), say(minors), say(DEFERRAL)),
        needs=(metal, say(_NEEDED[tool]), *map(say, NEEDS)),
        notes=(),
        permits=PERMITS[tool],
        wait_minutes=0,
        teacher_signs=False,
        metal=metal,
    )


def translated_texts() -> set[str]:
    """Every text above, for the catalogues of other languages."""
    found = {TITLE, POWER_CAUTION, MINORS_CAUTION, DEFERRAL}
    found.update(_CUT.values(), _NEEDED.values())
    found.update(DO_BEFORE, DO_AFTER, RIGHT_WHEN, CAUTIONS, NEEDS)
    for one in MISTAKES:
        found.update((one.what, one.cause, one.mend))
    return found
