"""A step of a recipe as a sentence, as a cook would write it down."""

from __future__ import annotations

from classroom.figures.units import Units, format_length
from studio.core.building import Role, Sort, Step
from studio.core.building.kinds import TILES

_DOES = {
    Role.METAL: "adds metal",
    Role.WINDOW: "is cut away",
    Role.COMMON: "keeps what lies in it",
    Role.LINE: "is a surface line",
}
_MIRRORS = {"across": "left and right", "down": "above and below", "both": "both ways"}


def title_of(step: Step) -> str:
    """The step's own name, or what it is."""
    if step.name:
        return step.name
    if step.kind.name == "letters":
        return f"Letters “{step.text('text')}”"
    if step.kind.name == "hole":
        return (
            "Drill mark for a ring" if step.text("purpose") == "ring" else "Drill mark for a rivet"
        )
    return step.kind.label


def sentence(step: Step, units: Units) -> str:
    """What the step does, with its chief numbers."""
    parts = [_size(step, units)]
    if step.has("role"):
        parts.append(_DOES[Role(step.text("role"))])
        if step.text("role") == Role.METAL and step.text("joins") == "apart":
            parts.append("a piece of its own")
    if step.kind.name == "hole":
        parts.append("near the edge" if step.text("found") == "edge" else "where it is put")
    if step.has("copies"):
        parts += _copies(step)
    return ", ".join(part for part in parts if part)


def _size(step: Step, units: Units) -> str:
    def told(name: str) -> str:
        return format_length(step.number(name), units)

    match step.kind.name:
        case "tiling":
            tile = dict(TILES)[step.text("tile")]
            return f"{tile}, {told('side')} a side, each a piece of its own"
        case "hole":
            return f"{told('diameter')} drill"
        case "stroke":
            return f"{told('length')} long, never sawn"
        case "all-round":
            return f"{told('round_out')} outside, {told('round_in')} inside"
        case "all-frame":
            return f"{told('frame')} wide"
        case "all-mirror":
            return f"a copy {_MIRRORS[step.text('mirror')]}"
        case "all-around":
            return f"{step.count('count')} times"
        case "all-change":
            return f"to {step.number('percent'):g} %, turned by {step.number('turn'):g}°"
        case "letters":
            return f"{told('height')} high"
    if step.has("diameter"):
        return f"{told('diameter')} across"
    lengths = [
        field.name for field in step.kind.fields if field.sort is Sort.LENGTH and field.grows
    ]
    return " by ".join(told(name) for name in lengths[:2])


def _copies(step: Step) -> list[str]:
    told = []
    if step.text("copies") != "none":
        how = "around a middle" if step.text("copies") == "around" else "in a row"
        told.append(f"{step.count('count')} times {how}")
    if step.text("mirror") != "none":
        told.append(f"mirrored {_MIRRORS[step.text('mirror')]}")
    return told
