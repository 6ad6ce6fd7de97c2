"""The numbers of one step, as a person types them and reads them.

The fields come from the recipe's own table of kinds, so one form serves every shape. Lengths
are in the school's units; any length may be typed with a unit of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from classroom.figures.units import LengthError, Units, length_to_type, parse_length_mm
from studio.core.building import Field, Kind, RecipeError, Sort, Step

PREFIX = "f-"
_LONGEST = 40
_GROUPS = {
    "does": "What it does",
    "size": "Size",
    "place": "Place",
    "corners": "Corners and frame",
    "copies": "Copies and mirror",
}
_ALWAYS_OPEN = ("does", "size", "place")


@dataclass(frozen=True, slots=True)
class ShownField:
    """A field with its value as text; `unit` is said beside it where the value names none."""

    name: str
    label: str
    value: str
    choices: tuple[tuple[str, str], ...]
    hint: str
    unit: str
    is_text: bool
    longest: int
    grows: str
    wrong: str = ""

    @property
    def described_by(self) -> str:
        """Ids of what stands below the field: why it was refused, and its hint."""
        ids = (self.wrong and f"w-{self.name}", self.hint and f"h-{self.name}")
        return " ".join(filter(None, ids))


@dataclass(frozen=True, slots=True)
class Mistyped:
    """What was sent for a step and refused: it is shown again, with why beside the field."""

    sent: Mapping[str, str]
    wrong_field: str
    why: str

    def value_of(self, name: str, otherwise: str) -> str:
        return self.sent.get(PREFIX + name, otherwise)[: 4 * _LONGEST]


@dataclass(frozen=True, slots=True)
class Group:
    """`open` groups show at once; the others unfold, and are open when something in them is set."""

    name: str
    label: str
    fields: tuple[ShownField, ...]
    folds: bool
    open: bool


def typed_values(kind: Kind, post: Mapping[str, str], units: Units) -> dict[str, float | str]:
    """Every value of the kind that was sent, in millimetres, degrees and so on.

    Raises RecipeError with a sentence for what cannot be read.
    """
    values: dict[str, float | str] = {}
    for field in kind.fields:
        text = post.get(PREFIX + field.name)
        if text is not None:
            values[field.name] = _read(field, text, units)
    return values


def _read(field: Field, text: str, units: Units) -> float | str:
    if field.sort in (Sort.TEXT, Sort.CHOICE):
        return text
    if len(text) > _LONGEST:
        raise RecipeError(f"“{field.label}” is too long.", "Type a number.", field=field.name)
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if field.sort in (Sort.LENGTH, Sort.PLACE):
        return _length(field, plain, units)
    number = plain.removesuffix("%").removesuffix("°").strip().replace(",", ".")
    try:
        return float(number)
    except ValueError as error:
        raise RecipeError(
            f"“{field.label}” is no number.", "Type a number such as 6.", field=field.name
        ) from error


def _length(field: Field, plain: str, units: Units) -> float:
    negative = field.sort is Sort.PLACE and plain.startswith("-")
    try:
        # The kind's own bounds speak of what is meant; here only what can be a length at all.
        length = parse_length_mm(plain.removeprefix("-") if negative else plain, units.typed,
                                 least_mm=0.0)  # fmt: skip
    except LengthError as error:
        raise RecipeError(
            f"{field.label}: {error.message}", error.mend, field=field.name
        ) from error
    return -length if negative else length


def shown(step: Step, units: Units, typed: Mistyped | None = None) -> list[Group]:
    """The step's fields as groups of a form, in the order of the page; with what was `typed`
    instead of what stands, where that was refused."""
    groups = []
    for name, label in _GROUPS.items():
        fields = [field for field in step.kind.fields if field.group == name and step.heeds(field)]
        if not fields:
            continue
        set_here = any(
            step.values[field.name] != field.usual
            or (typed is not None and typed.wrong_field == field.name)
            for field in fields
        )
        groups.append(
            Group(
                name,
                label,
                tuple(_shown(step, field, units, typed) for field in fields),
                folds=name not in _ALWAYS_OPEN and step.kind.of != "all",
                open=set_here,
            )
        )
    return groups


def _shown(step: Step, field: Field, units: Units, typed: Mistyped | None) -> ShownField:
    stands = as_typed(field, step.values[field.name], units)
    return ShownField(
        name=field.name,
        label=field.label,
        value=stands if typed is None else typed.value_of(field.name, stands),
        choices=field.choices,
        hint=field.hint,
        unit={Sort.ANGLE: "°", Sort.PERCENT: "%"}.get(field.sort, ""),
        is_text=field.sort is Sort.TEXT,
        longest=int(field.most) if field.sort is Sort.TEXT else _LONGEST,
        grows=field.grows,
        wrong=typed.why if typed is not None and typed.wrong_field == field.name else "",
    )


def as_typed(field: Field, value: float | str, units: Units) -> str:
    if isinstance(value, str):
        return value
    if field.sort in (Sort.LENGTH, Sort.PLACE):
        sign = "-" if value < 0 else ""
        return sign + length_to_type(abs(value), units)
    return f"{value:.4f}".rstrip("0").rstrip(".")
