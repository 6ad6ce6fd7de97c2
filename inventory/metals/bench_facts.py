"""What does the bench need to know about this metal? Tools and cautions, ready to print.

`studio.core.bench.steps` puts these lines into its steps as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from classroom.figures.rounding import drill_size, short_mm, told_mm

from .alloys import CautionKind, alloy
from .blades import Blade, Rating, first_choice_blade, kerf_advice, rate_blade
from .blades import blade as blade_of_size
from .drills import NUMBER_DRILLS, PILOT_ROOM, drill_nearest, pilot_advice
from .gauges import thickness_key, thickness_label
from .saying import ENGLISH, Say


@dataclass(frozen=True, slots=True)
class BenchFacts:
    """One metal seen from the bench. All texts are whole sentences or tool names, in order."""

    alloy_code: str
    metal_name: str
    thickness_mm: Decimal
    thickness_label: str
    saw_tools: tuple[str, ...]
    saw_notes: tuple[str, ...]
    pilot_tools: tuple[str, ...]
    pilot_notes: tuple[str, ...]
    hole_tools: tuple[str, ...]
    dust_cautions: tuple[str, ...]
    heat_cautions: tuple[str, ...]
    wear_cautions: tuple[str, ...]


def bench_facts(
    alloy_code: str,
    thickness_mm: Decimal | float,
    *,
    blade: Blade | str | None = None,
    window_widths_mm: Sequence[float] = (),
    hole_diameters_mm: Sequence[float] = (),
    say: Say = ENGLISH,
) -> BenchFacts:
    """Facts for sheet of this alloy and thickness.

    `blade` is the class's blade or its size, such as "2/0"; without one, the first choice for the
    thickness. `window_widths_mm` are the diameters of the largest circle inside each window,
    `hole_diameters_mm` those of ring and rivet marks; `say` is the language. Raises
    `UnknownMetalError`, `ThicknessError` or, for a diameter that is no positive number,
    `ValueError`.
    """
    metal = alloy(alloy_code)
    key = thickness_key(thickness_mm)
    best = first_choice_blade(key)
    if blade is None:
        choice = best
    else:
        choice = rate_blade(blade_of_size(blade) if isinstance(blade, str) else blade, key)
    pilot = pilot_advice(choice.blade)
    kerf_least, kerf_most = kerf_advice(choice.blade)

    notes = [say("Blade %(reason)s") % {"reason": choice.reason_in(say)}]
    if choice.rating is Rating.WARN and best.rating is not Rating.WARN:
        better = say("A %(blade)s blade suits this thickness better.")
        notes.append(better % {"blade": best.blade.name_in(say)})
    if best.rating is Rating.WARN:
        thin = say("This sheet is very thin: saw it on a backing sheet of card or soft scrap.")
        notes.append(thin)
    wide = say(
        "Its kerf (the width of its cut) is about %(least)s to %(most)s mm; blades of one number "
        "differ between makers."
    )
    notes.append(wide % {"least": told_mm(kerf_least), "most": told_mm(kerf_most)})

    pilot_tools: list[str] = []
    pilot_notes: list[str] = []
    if window_widths_mm:
        wider = say("%(drill)s or a little wider, for the pilot holes")
        pilot_tools.append(wider % {"drill": pilot.smallest.label_in(say)})
        one_size = pilot.one_size
        if one_size is not None and min(window_widths_mm) >= one_size.diameter_mm * PILOT_ROOM:
            easier = say("%(drill)s is easier where the window has room")
            pilot_tools.append(easier % {"drill": one_size.label_in(say)})
        narrow = sum(1 for width in window_widths_mm if width < pilot.smallest.diameter_mm)
        if narrow:
            text = say.count_of(
                "One window is narrower than the pilot drill for this blade: ask the teacher "
                "before you drill.",
                "%(count)s windows are narrower than the pilot drill for this blade: ask the "
                "teacher before you drill.",
                narrow,
            )
            pilot_notes.append(text % {"count": narrow})

    frame = say("saw frame with a %(blade)s blade, and spares")
    wanted = sorted({drill_size(one) for one in hole_diameters_mm})
    return BenchFacts(
        alloy_code=metal.code,
        metal_name=say(metal.plain_name),
        thickness_mm=key,
        thickness_label=thickness_label(key, metal.code, say),
        saw_tools=(frame % {"blade": choice.blade.name_in(say)},),
        saw_notes=tuple(notes),
        pilot_tools=tuple(pilot_tools),
        pilot_notes=tuple(pilot_notes),
        hole_tools=tuple(_hole_tool(diameter, say) for diameter in wanted),
        dust_cautions=metal.cautions_about(CautionKind.DUST, say=say),
        heat_cautions=metal.cautions_about(CautionKind.HEAT, say=say),
        wear_cautions=metal.cautions_about(CautionKind.WEAR, CautionKind.WORDS, say=say),
    )


def _hole_tool(diameter_mm: float, say: Say) -> str:
    widest = NUMBER_DRILLS[-1].diameter_mm
    nearest = drill_nearest(diameter_mm)
    mm = short_mm(diameter_mm)
    if diameter_mm > widest and abs(nearest.off_mm) > 0.25:
        return say("drill for the marks of %(mm)s mm: ask the teacher for that size") % {"mm": mm}
    drill = nearest.drill.label_in(say)
    return say("%(drill)s, for the marks of %(mm)s mm") % {"drill": drill, "mm": mm}
