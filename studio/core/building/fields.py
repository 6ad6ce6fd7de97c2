"""The fields of a recipe's steps: what kind of value each takes, its bounds and its words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

MOST_MM: Final = 600.0  # no brief asks for more


class Sort(StrEnum):
    """What kind of value a field takes."""

    LENGTH = "length"
    PLACE = "place"  # a length that may be negative
    ANGLE = "angle"
    COUNT = "count"
    PERCENT = "percent"
    TEXT = "text"
    CHOICE = "choice"


@dataclass(frozen=True, slots=True)
class Field:
    """One value of a step.

    `grows` says how it follows the size handle: "x" and "y" with that side alone, "both" with
    the whole shape, "" not at all. `group` is the part of the form it stands in.
    """

    name: str
    label: str
    sort: Sort
    usual: float | str
    least: float = 0.0
    most: float = 0.0
    choices: tuple[tuple[str, str], ...] = ()
    grows: str = ""
    group: str = "size"
    hint: str = ""
    when: tuple[tuple[str, tuple[str, ...]], ...] = ()  # matters if one of these is chosen


@dataclass(frozen=True, slots=True)
class Kind:
    """`of` is "shape" (an area that does something), "hole", "mark" or "all" (works on it all)."""

    name: str
    label: str
    of: str
    fields: tuple[Field, ...]

    def field(self, name: str) -> Field | None:
        return next((each for each in self.fields if each.name == name), None)


def length(
    name: str, label: str, usual: float, least: float = 0.5, most: float = MOST_MM, **more: str
) -> Field:
    return Field(name, label, Sort.LENGTH, usual, least, most, **more)  # type: ignore[arg-type]


def when(field: Field, *choices: tuple[str, tuple[str, ...]]) -> Field:
    return replace(field, when=choices)


def count(name: str, label: str, usual: int, least: int, most: int, **more: str) -> Field:
    return Field(name, label, Sort.COUNT, usual, least, most, **more)  # type: ignore[arg-type]


def place(name: str, label: str, group: str = "place", usual: float = 0.0) -> Field:
    return Field(name, label, Sort.PLACE, usual, -MOST_MM, MOST_MM, group=group)


def choice(name: str, label: str, group: str, *choices: tuple[str, str], usual: str = "") -> Field:
    return Field(name, label, Sort.CHOICE, usual or choices[0][0], choices=choices, group=group)


class Role(StrEnum):
    """What a shape does to the metal that is there so far."""

    METAL = "metal"
    WINDOW = "window"
    COMMON = "common"
    LINE = "line"
