"""Which steps does this piece of work need at the bench, and what does each one say?

`steps_for` joins the lasting words of `texts` with what the metal's tables advise and what
the drawing asks for. A `Say` decides in which language the steps come.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final

import shapely
from shapely.geometry import Polygon

from inventory.metals import ENGLISH, BenchFacts, Blade, Say, bench_facts
from studio.core.drawing import Drawing, DrillKind

from .planned import PlannedBenchStep, SchoolWords
from .texts import (
    DEFERRAL,
    DRY_MINUTES,
    SOAK_MINUTES,
    TEXTS,
    WORDING_VERSION,
    BenchStepKind,
    Mistake,
)

LONGEST_WAIT_MINUTES: Final = 7 * 24 * 60
USUAL_TEACHER_SIGNS: Final = frozenset(kind for kind in BenchStepKind if TEXTS[kind].teacher_signs)
"""Steps that a teacher looks at unless the brief says otherwise: before tools touch the metal,
after the drill press, and before a piece leaves the bench (common practice, no source)."""
_ONLY_WITH_A_PATTERN: Final = (BenchStepKind.ADHERE, BenchStepKind.DRY, BenchStepKind.REMOVE)


class BenchError(ValueError):
    """Bench steps that cannot be made; the message says how to mend the brief."""


def steps_for(
    alloy_code: str,
    thickness_mm: Decimal | float,
    *,
    blade: Blade | str | None = None,
    window_widths_mm: Sequence[float] = (),
    hole_diameters_mm: Sequence[float] = (),
    pilot_count: int | None = None,
    dry_minutes: int = DRY_MINUTES,
    soak_minutes: int = SOAK_MINUTES,
    teacher_signs: Collection[BenchStepKind | str] | None = None,
    leave_out: Collection[BenchStepKind | str] = (),
    words: Mapping[BenchStepKind, SchoolWords] | None = None,
    say: Say = ENGLISH,
) -> tuple[PlannedBenchStep, ...]:
    """The steps in order, for sheet of this alloy and thickness.

    `window_widths_mm` has one entry per window (see `window_width_mm`), `hole_diameters_mm` one
    per ring or rivet mark; with neither there is no drill step. `pilot_count` is one per window
    unless given; `blade` is the brief's, or the first choice for the thickness. `teacher_signs`
    are the kinds that a teacher signs too (None: `USUAL_TEACHER_SIGNS`), `leave_out` the kinds
    that the brief does without; leaving out the adhesive leaves out drying and removing too.
    `words` has the kinds that the school words itself; cautions, needs and permits stay ours.
    All of ours comes in the language of `say`. Raises `BenchError` for waits out of bounds, a
    kind that does not exist or a brief without sawing, and what `inventory.metals.bench_facts`
    raises for an unknown metal or blade.
    """
    for minutes in (dry_minutes, soak_minutes):
        if not 0 <= minutes <= LONGEST_WAIT_MINUTES:
            raise BenchError(
                f"A waiting time must lie between 0 and {LONGEST_WAIT_MINUTES} minutes (a week)."
            )
    dropped = _kinds(leave_out)
    if BenchStepKind.SAW in dropped:
        raise BenchError("Sawing cannot be left out: pieces come out of the sheet by the saw.")
    if BenchStepKind.ADHERE in dropped:
        dropped.update(_ONLY_WITH_A_PATTERN)
    pilots = len(window_widths_mm) if pilot_count is None else pilot_count
    if pilots < 0:
        raise BenchError("There cannot be fewer than no pilot holes.")
    if not pilots and not hole_diameters_mm:
        dropped.add(BenchStepKind.DRILL)

    facts = bench_facts(
        alloy_code,
        thickness_mm,
        blade=blade,
        window_widths_mm=window_widths_mm,
        hole_diameters_mm=hole_diameters_mm,
        say=say,
    )
    waits = {BenchStepKind.DRY: dry_minutes, BenchStepKind.REMOVE: soak_minutes}
    signed = USUAL_TEACHER_SIGNS if teacher_signs is None else _kinds(teacher_signs)
    plans = []
    for kind in BenchStepKind:
        if kind in dropped:
            continue
        plan = _with_metal(_plain(kind, (words or {}).get(kind), say), facts, say)
        if kind is BenchStepKind.DRILL:
            plan = _with_holes(plan, facts, pilots, len(hole_diameters_mm), say)
        if kind is BenchStepKind.SAW:
            plan = _with_windows(plan, facts, len(window_widths_mm), say)
        plans.append(
            replace(
                plan,
                cautions=(*plan.cautions, say(DEFERRAL)),
                wait_minutes=waits.get(kind, 0),
                teacher_signs=kind in signed,
            )
        )
    return tuple(plans)


def steps_for_drawing(
    drawing: Drawing,
    alloy_code: str,
    thickness_mm: Decimal | float,
    *,
    blade: Blade | str | None = None,
    dry_minutes: int = DRY_MINUTES,
    soak_minutes: int = SOAK_MINUTES,
    teacher_signs: Collection[BenchStepKind | str] | None = None,
    leave_out: Collection[BenchStepKind | str] = (),
    words: Mapping[BenchStepKind, SchoolWords] | None = None,
    say: Say = ENGLISH,
) -> tuple[PlannedBenchStep, ...]:
    """The steps for one drawing: `steps_for` with its windows and drill marks measured."""
    widths = [
        window_width_mm(Polygon(ring))
        for piece in drawing.pieces
        for ring in piece.outline.interiors
    ]
    holes = [
        mark.diameter_mm
        for piece in drawing.pieces
        for mark in piece.drill_marks
        if mark.kind is not DrillKind.PILOT
    ]
    return steps_for(
        alloy_code,
        thickness_mm,
        blade=blade,
        window_widths_mm=widths,
        hole_diameters_mm=holes,
        pilot_count=max(drawing.hole_count - len(holes), 0),
        dry_minutes=dry_minutes,
        soak_minutes=soak_minutes,
        teacher_signs=teacher_signs,
        leave_out=leave_out,
        words=words,
        say=say,
    )


def window_width_mm(window: Polygon) -> float:
    """Diameter in millimetres of the largest circle inside the window, to about 0.01 mm."""
    return 2.0 * float(shapely.maximum_inscribed_circle(window, tolerance=0.005).length)


def _kinds(names: Iterable[BenchStepKind | str]) -> set[BenchStepKind]:
    try:
        return {BenchStepKind(name) for name in names}
    except ValueError:
        known = ", ".join(BenchStepKind)
        raise BenchError(f"A step of that kind does not exist: choose from {known}.") from None


def house_words(kind: BenchStepKind, say: Say = ENGLISH) -> SchoolWords:
    """The words that stand until a school words the step itself: version 0."""
    text = TEXTS[kind]
    return SchoolWords(
        0,
        tuple(map(say, text.do)),
        tuple(map(say, text.right_when)),
        tuple(Mistake(say(one.what), say(one.cause), say(one.mend)) for one in text.mistakes),
    )


def _plain(kind: BenchStepKind, words: SchoolWords | None, say: Say) -> PlannedBenchStep:
    text = TEXTS[kind]
    said = words or house_words(kind, say)
    own = bool(said.version)
    return PlannedBenchStep(
        kind=kind,
        title=say(text.title),
        do=said.do,
        right_when=said.right_when,
        usual_mistakes=said.mistakes,
        cautions=tuple(map(say, text.cautions)),
        needs=tuple(map(say, text.needs)),
        notes=(),
        permits=text.permits,
        wait_minutes=0,
        teacher_signs=text.teacher_signs,
        wording_version=school_version(said.version) if own else WORDING_VERSION,
        own_words_in=said.language if own else "",
    )


def school_version(number: int) -> str:
    """What a step is marked with whose words are the school's own, on our cautions."""
    return f"school {number}, {WORDING_VERSION}"


def _with_metal(plan: PlannedBenchStep, facts: BenchFacts, say: Say) -> PlannedBenchStep:
    """The metal's own cautions, on the steps where each one matters."""
    match plan.kind:
        case BenchStepKind.PREPARE:
            sheet = say("your metal: %(metal)s, %(thickness)s") % {
                "metal": facts.metal_name,
                "thickness": facts.thickness_label,
            }
            return replace(
                plan,
                needs=(sheet, *plan.needs),
                metal=sheet,
                cautions=plan.cautions + facts.dust_cautions,
            )
        case BenchStepKind.SAW:
            return replace(plan, cautions=plan.cautions + facts.dust_cautions)
        case BenchStepKind.DRY:
            return replace(plan, cautions=plan.cautions + facts.heat_cautions)
        case BenchStepKind.FINISH:
            return replace(
                plan,
                cautions=(
                    *plan.cautions,
                    *facts.dust_cautions,
                    *facts.heat_cautions,
                    *facts.wear_cautions,
                ),
            )
        case _:
            return plan


def _with_holes(
    plan: PlannedBenchStep, facts: BenchFacts, pilots: int, others: int, say: Say
) -> PlannedBenchStep:
    """How many holes to find, which drills, and what is tight."""
    pilot = say.count_of("1 pilot hole", "%(count)s pilot holes", pilots) % {"count": pilots}
    other = say.count_of("1 other drill mark", "%(count)s other drill marks", others) % {
        "count": others
    }
    if pilots and others:
        both = {"pilots": pilot, "others": other}
        found = say("On your pattern: %(pilots)s and %(others)s.") % both
    else:
        found = say("On your pattern: %(holes)s.") % {"holes": pilot if pilots else other}
    inside = (say("A pilot hole lies inside its window, clear of the line."),)
    return replace(
        plan,
        do=(f"{plan.do[0]} {found}", *(inside if pilots else ()), *plan.do[1:]),
        needs=(*plan.needs, *facts.pilot_tools, *facts.hole_tools),
        cautions=(*plan.cautions, *facts.pilot_notes),
    )


def _with_windows(
    plan: PlannedBenchStep, facts: BenchFacts, windows: int, say: Say
) -> PlannedBenchStep:
    """Windows come first, while the sheet around them is still big enough to hold."""
    first: tuple[str, ...] = ()
    if windows:
        text = say.count_of(
            "Saw the window first, while there is still plenty of sheet to hold; the outlines "
            "last.",
            "Saw all %(count)s windows first, while there is still plenty of sheet to hold; the "
            "outlines last.",
            windows,
        )
        first = (
            text % {"count": windows},
            say(
                "For a window, loosen one end of the blade, thread it through the pilot hole with "
                "the pattern facing up, and tighten it again."
            ),
        )
    return replace(
        plan,
        do=(plan.do[0], *first, *plan.do[1:]),
        needs=(*facts.saw_tools, *plan.needs),
        notes=facts.saw_notes,
    )
