"""What the bench steps say, in our own words. Data only; `steps` puts them together.

Written short and plain for students of about 12 and up. Times, grits and sizes are common
practice unless a source stands beside them. Any change here needs a new `WORDING_VERSION`,
because a signed step keeps the exact wording that was signed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

WORDING_VERSION: Final = "2026-12"

DEFERRAL: Final = (
    "Local code, your school's policy, the equipment manual and the product's safety data sheet "
    "come first. Where they differ from this page, follow them."
)

DRY_MINUTES: Final = 20
"""Drying time of a water-based adhesive: 15 to 20 minutes (common practice, no source)."""
SOAK_MINUTES: Final = 10
"""Soaking time in warm water: 5 to 10 minutes (common practice, no source)."""


class BenchStepKind(StrEnum):
    """The stages of the bench work, in order."""

    PREPARE = "prepare"
    ADHERE = "adhere"
    DRY = "dry"
    DRILL = "drill"
    SAW = "saw"
    REMOVE = "remove"
    FINISH = "finish"


class StockStepKind(StrEnum):
    """Steps that only a stock piece has; it may also be prepared, stuck and dried for all."""

    PART = "part"


@dataclass(frozen=True, slots=True)
class Mistake:
    """What goes wrong, why, and what to do about it."""

    what: str
    cause: str
    mend: str


@dataclass(frozen=True, slots=True)
class BenchStepText:
    """The lasting words of one step, before the metal and the drawing add theirs."""

    title: str
    do: tuple[str, ...]
    right_when: tuple[str, ...]
    mistakes: tuple[Mistake, ...]
    cautions: tuple[str, ...]
    needs: tuple[str, ...]
    permits: tuple[str, ...]  # codes of safety topics
    teacher_signs: bool


# The order pilot holes before windows, and the centre punch before the drill, are handbook
# practice: A. F. Rose, Copper Work, Davis Press 1906, ch. II (verified).
TEXTS: Final[dict[BenchStepKind, BenchStepText]] = {
    BenchStepKind.PREPARE: BenchStepText(
        title="Prepare the metal",
        do=(
            "Find the area marked on your placement sheet. Only the metal that the pattern will "
            "cover is rubbed; leave the rest as it came.",
            "Wrap abrasive paper round a flat block. 320 grit is best; anything from 320 to 600 "
            "will do.",
            "Rub with even, light strokes in one direction, then across.",
            "Tilt the metal under a lamp and look for dark spots. Rub those again.",
            "Wash the area with water and a drop of dish soap. Rinse well.",
            "Dry it with a clean cloth. From now on hold the metal by its edges only.",
        ),
        right_when=(
            "Tilt test: when you tilt it under the lamp, the whole area has one even, dull shine "
            "and no dark spots.",
            "Water test: rinsing water runs off as one whole film and stays whole for a minute. "
            "Where it breaks up or beads, there is still grease. (ASTM F22 describes this test.)",
        ),
        mistakes=(
            Mistake(
                "Dark spots stay",
                "The paper skipped the low places, or it is worn out.",
                "Take fresh paper, keep the block flat and rub those places again.",
            ),
            Mistake(
                "Water beads on the clean metal",
                "Finger grease or soap is left.",
                "Wash and rinse again, and touch only the edges.",
            ),
            Mistake(
                "Scratches beside the pattern's area",
                "The block ran over the marked line.",
                "Mark the area with masking tape before you rub.",
            ),
        ),
        cautions=(
            "Wear eye protection. The metal's edges and corners are sharp.",
            "Solvents are for the teacher to hand out, and only where washing is not enough.",
        ),
        needs=(
            "placement sheet",
            "320 grit paper on a flat block",
            "dish soap and water",
            "clean cloth",
        ),
        permits=("abrasives-dust",),
        teacher_signs=False,
    ),
    BenchStepKind.ADHERE: BenchStepText(
        title="Stick the pattern on",
        do=(
            "Check the print: both 100 mm bars must measure 100 mm.",
            "Cut the pattern out just outside its line. Where the sheet marks an edge to trim "
            "flush, cut exactly on that line.",
            "Spread one thin coat of adhesive over all of the pattern's back, right to its edge.",
            "Lay the pattern in the place the sheet shows. Slide it true before it grips.",
            "Press from the middle to the edges until it lies flat. Wipe off what comes out.",
        ),
        right_when=(
            "The paper lies flat everywhere, with no bubble, no wrinkle and no loose edge.",
            "The place and the turn agree with the placement sheet.",
        ),
        mistakes=(
            Mistake(
                "The paper wrinkles and stays wet",
                "Too much adhesive.",
                "Peel it off, clean the metal and start again with a thin coat.",
            ),
            Mistake(
                "The pattern lifts while sawing",
                "Adhesive only in patches, or grease on the metal.",
                "Coat the whole back; clean the metal again first.",
            ),
            Mistake(
                "The piece does not fit where the plan put it",
                "The pattern was turned, or printed with the page fitted to the paper.",
                "Compare it with the placement sheet and measure the bars.",
            ),
        ),
        cautions=(
            "Use the water-based adhesive unless the teacher hands you another. Read its label.",
            "Fresh air; no flame or hot plate near an adhesive or solvent that can burn.",
        ),
        needs=(
            "pattern sheet printed at 100 %",
            "steel rule",
            "scissors",
            "adhesive and spreader",
            "damp cloth",
        ),
        permits=("adhesives-solvents",),
        teacher_signs=False,
    ),
    BenchStepKind.DRY: BenchStepText(
        title="Let it dry",
        do=(
            "Put a clean sheet of paper over the pattern and press it flat under a weight.",
            "Leave it for the whole waiting time. Do not warm it to hurry it on.",
            "Write your name on the paper, not on the metal.",
        ),
        right_when=("The paper feels dry and firm, and no corner lifts when you stroke over it.",),
        mistakes=(
            Mistake(
                "The edge lifts",
                "The coat did not reach the edge, or it was not pressed.",
                "Put a little adhesive under the edge, press, and wait again.",
            ),
            Mistake(
                "The paper is still damp",
                "A thick coat or a cold room.",
                "Give it more time. Overnight under a weight is better still.",
            ),
        ),
        cautions=("No heat gun, torch or oven: they can set the adhesive's fumes alight.",),
        needs=("clean paper", "flat weight"),
        permits=(),
        teacher_signs=True,
    ),
    BenchStepKind.DRILL: BenchStepText(
        title="Drill the holes",
        do=(
            "Find every drill mark on the pattern: each carries a cross.",
            "Dent the middle of each cross with a centre punch, on a steel block.",
            "Clamp the metal over a block of wood so that it cannot turn.",
            "Fit the drill, take the chuck key out, and drill with light pressure. Lift often.",
            "Ease off just before the drill comes through.",
            "Switch off and wait until it stands still. Brush the chips away and scrape off the "
            "burr underneath.",
        ),
        right_when=(
            "Every cross has a clean hole in its middle, and the count agrees with the plan.",
        ),
        mistakes=(
            Mistake(
                "The drill wandered off the cross",
                "No dent, or too shallow a one.",
                "Punch again, a little deeper, and start slowly.",
            ),
            Mistake(
                "The sheet jumped and spun",
                "It was held by hand or clamped at one side only.",
                "Stop and call the teacher. Clamp it on both sides over wood.",
            ),
            Mistake(
                "A thin drill snapped",
                "Too much pressure, or the drill was packed with chips.",
                "Press less and lift often to clear the chips.",
            ),
        ),
        cautions=(
            "Eye protection on; hair tied back; no gloves, loose sleeves, rings or lanyards.",
            "Never hold sheet metal by hand under a drill.",
        ),
        needs=(
            "centre punch, small hammer and steel block",
            "clamps and a block of wood",
            "brush",
        ),
        permits=("drill-press",),
        teacher_signs=True,
    ),
    BenchStepKind.SAW: BenchStepText(
        title="Saw it out",
        do=(
            "String the blade with its teeth toward you and down to the handle. It should ring "
            "when you pluck it.",
            "Touch the blade to wax or a candle now and then, lightly.",
            "Saw upright with long, light strokes, and let the blade do the work. Turn the metal, "
            "not the frame.",
            "Follow the order on the cut plan. Keep the blade on the waste side of the line: "
            "outside an outline, inside a window. Where two pieces share a saw line, it runs "
            "between their two printed lines.",
            "At a sharp corner, saw on the spot without pushing while you turn the metal.",
            "Near the end of each cut, hold the blade relaxed and let it come through by itself.",
        ),
        right_when=(
            "The line can still just be seen all round every piece.",
            "Edges stand square to the face.",
            "Offcuts are whole and marked for the rack; scrap is in the alloy's scrap box.",
        ),
        mistakes=(
            Mistake(
                "Blades keep breaking",
                "Pushing, tilting or twisting the frame, a slack blade, or one too coarse.",
                "Loosen your grip, saw upright, tighten the blade or take a finer one.",
            ),
            Mistake(
                "The cut leans under the line",
                "The frame is tilted.",
                "Look at it from the side and hold the blade upright.",
            ),
            Mistake(
                "The blade sticks in a corner",
                "The metal was turned before there was room.",
                "Keep the strokes going on the spot and turn a little at a time.",
            ),
        ),
        cautions=(
            "Eye protection on: blades snap and fly.",
            "Keep fingers out of the blade's line, above and below the metal.",
            "Broken blades go in the blade box.",
        ),
        needs=("bench pin", "wax or candle", "blade box"),
        permits=("saw-frame",),
        teacher_signs=False,
    ),
    BenchStepKind.REMOVE: BenchStepText(
        title="Take the pattern off",
        do=(
            "Lay the pieces in warm water, not hot: about as warm as a bath. If it steams, it is "
            "too hot.",
            "Leave them for the whole soaking time, no longer.",
            "Peel the paper off. Rub what is left away with a soft brush and dish soap.",
            "Rinse and dry both sides at once.",
        ),
        right_when=(
            "No paper or adhesive is left, also in corners and windows, and the metal is dry.",
        ),
        mistakes=(
            Mistake(
                "The paper tears into shreds",
                "It did not soak long enough.",
                "Put it back for a few more minutes, then brush.",
            ),
            Mistake(
                "Stains on the metal",
                "It lay wet for too long.",
                "Dry it at once next time; rub these off with fine paper.",
            ),
        ),
        cautions=(
            "Hot water scalds: warm is enough. Wipe up spills.",
            "Sawn edges are sharp under water too: take pieces out by their flat sides.",
        ),
        needs=("bowl of warm water", "soft brush and dish soap", "towel"),
        permits=("hot-water-soak",),
        teacher_signs=False,
    ),
    BenchStepKind.FINISH: BenchStepText(
        title="Finish the piece",
        do=(
            "Hold the piece on the pin or in a clamp. File down to the line with forward strokes.",
            "Use needle files in the windows and corners.",
            "Take the burr off every edge, outside and inside, front and back.",
            "Round off sharp points.",
            "Rub the faces with finer and finer paper until you like the look. Wash and dry.",
        ),
        right_when=(
            "A ball of cotton wool drawn along every edge catches nowhere. Never try it with a "
            "finger.",
            "The outline is even when you hold the piece against the light.",
        ),
        mistakes=(
            Mistake(
                "The edge has flat places",
                "Filing too long in one spot.",
                "Sweep the file along the edge as you push.",
            ),
            Mistake(
                "Deep scratches on the face",
                "A step to finer paper came too early.",
                "Go back one grit and rub until they are gone.",
            ),
        ),
        cautions=(
            "Use files with tight handles only.",
            "Until the burr is off, the piece cuts: do not pass it around.",
        ),
        needs=("flat file and needle files", "abrasive papers, 320 to 600", "cloth"),
        permits=("files-sharp-edges", "abrasives-dust"),
        teacher_signs=True,
    ),
}


def translated_texts() -> set[str]:
    """Every text above, for the catalogues of other languages."""
    found = {DEFERRAL}
    for text in TEXTS.values():
        found.add(text.title)
        found.update(*(text.do, text.right_when, text.cautions, text.needs))
        for one in text.mistakes:
            found.update((one.what, one.cause, one.mend))
    return found
