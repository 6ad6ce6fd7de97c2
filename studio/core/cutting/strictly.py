"""Reading JSON strictly: what is wanted, within which bounds, and refusals that name the field."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any


class JobError(ValueError):
    """A job that cannot be used; says which field and how to mend it, in one line."""

    def __init__(self, where: str, message: str) -> None:
        super().__init__(f"{where}: {message}")
        self.where = where
        self.message = message


def mapping(value: object, where: str) -> Mapping[str, Any]:
    """An object in braces."""
    if not isinstance(value, dict):
        raise JobError(where, "an object in braces is wanted")
    return value


def only(data: Mapping[str, Any], where: str, known: str) -> None:
    """Refuse fields beyond the `known`, names with spaces between."""
    names = known.split()
    for name in data:
        if name not in names:
            raise JobError(f"{where}.{name[:60]}", f"unknown field; known are {', '.join(names)}")


def listed(data: Mapping[str, Any], name: str, most: int) -> Sequence[object]:
    """The list of that name, of at most so many entries."""
    value = data.get(name)
    if not isinstance(value, list):
        raise JobError(name, "a list is wanted")
    if len(value) > most:
        raise JobError(name, f"{len(value)} entries; {most} is the most")
    return value


def flag(data: Mapping[str, Any], name: str, where: str, *, default: bool) -> bool:
    """True or false."""
    value = data.get(name, default)
    if not isinstance(value, bool):
        raise JobError(f"{where}.{name}", "true or false is wanted")
    return value


def number(
    data: Mapping[str, Any], name: str, where: str, default: float, least: float, most: float
) -> float:
    """The number of that name within its bounds, or the default."""
    field = f"{where}.{name}" if where else name
    return finite(data.get(name, default), field, least, most)


def any_number(value: object, field: str) -> float:
    """A number of any size, also one that is infinite or none at all."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise JobError(field, "a number is wanted")
    try:
        return float(value)
    except OverflowError:
        return math.inf


def finite(value: object, field: str, least: float, most: float) -> float:
    """A number within its bounds."""
    number = any_number(value, field)
    if not (math.isfinite(number) and least <= number <= most):
        raise JobError(field, f"a number from {least:g} to {most:g} is wanted")
    return number
