"""A recipe: the steps from which a pattern is built, one after the other.

As JSON: `{"version": 1, "steps": [{"id": "1", "kind": "circle", "diameter": 30}, …]}`. What a
step does not say has its usual value. Each step works on the metal that is there so far:
shapes add metal or take some away, holes are drilled, and steps for it all change everything.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Self

from .errors import RecipeError
from .fields import Field, Kind, Sort
from .kinds import KINDS

VERSION: Final = 1
MOST_STEPS: Final = 60
LONGEST_NAME: Final = 40

Value = float | str


@dataclass(frozen=True, slots=True)
class Step:
    """`values` holds every field of its kind."""

    id: str
    kind: Kind
    values: Mapping[str, Value]
    name: str = ""

    def number(self, field: str) -> float:
        return float(self.values[field])

    def count(self, field: str) -> int:
        return int(self.values[field])

    def text(self, field: str) -> str:
        return str(self.values[field])

    def has(self, field: str) -> bool:
        return field in self.values

    def heeds(self, field: Field) -> bool:
        """Whether the field matters, with what is chosen in the others."""
        return not field.when or any(self.values[name] in chosen for name, chosen in field.when)

    def to_json(self) -> dict[str, Any]:
        """Without the values that are as usual."""
        told = {
            field.name: self.values[field.name]
            for field in self.kind.fields
            if self.values[field.name] != field.usual
        }
        named = {"name": self.name} if self.name else {}
        return {"id": self.id, "kind": self.kind.name, **named, **told}

    @classmethod
    def from_json(cls, data: object) -> Self:
        """Raises RecipeError for whatever is not a step."""
        if not isinstance(data, Mapping):
            raise RecipeError("A step of this recipe is no step.", _AGAIN)
        step_id, kind_name, name = data.get("id"), data.get("kind"), data.get("name", "")
        if not isinstance(step_id, str) or re.fullmatch(r"[0-9]{1,4}", step_id) is None:
            raise RecipeError("A step of this recipe has no number.", _AGAIN)
        kind = KINDS.get(kind_name) if isinstance(kind_name, str) else None
        if kind is None:
            raise RecipeError("This recipe asks for a shape that is not known here.", _AGAIN)
        if not isinstance(name, str):
            raise RecipeError("The name of a step is no text.", _AGAIN, step_id)
        unknown = set(map(str, data)) - {"id", "kind", "name"} - {f.name for f in kind.fields}
        if unknown:
            raise RecipeError(
                f"{kind.label} knows nothing called “{min(unknown)[:20]}”.", _AGAIN, step_id
            )
        values = {
            field.name: checked(field, data[field.name], step_id)
            if field.name in data
            else field.usual
            for field in kind.fields
        }
        return cls(step_id, kind, values, plain_text(name, LONGEST_NAME, "name", step_id))

    def changed(self, values: Mapping[str, object], name: str | None = None) -> Self:
        """The step with these values instead. Raises RecipeError."""
        data = {**self.to_json(), **values}
        if name is not None:
            data["name"] = name
        return type(self).from_json(data)


@dataclass(frozen=True, slots=True)
class Recipe:
    steps: tuple[Step, ...] = ()

    def __iter__(self) -> Iterator[Step]:
        return iter(self.steps)

    def step(self, step_id: str) -> Step | None:
        return next((step for step in self.steps if step.id == step_id), None)

    def to_json(self) -> dict[str, Any]:
        return {"version": VERSION, "steps": [step.to_json() for step in self.steps]}

    @classmethod
    def from_json(cls, data: object) -> Self:
        """Raises RecipeError for anything that is not a recipe of ours."""
        if not isinstance(data, Mapping):
            raise RecipeError("This is no recipe.", _AGAIN)
        if data.get("version") != VERSION:
            raise RecipeError("This recipe is of a version that is not known here.", _AGAIN)
        steps = data.get("steps")
        if not isinstance(steps, list | tuple):
            raise RecipeError("This recipe has no steps.", _AGAIN)
        if len(steps) > MOST_STEPS:
            raise RecipeError(
                f"A recipe has at most {MOST_STEPS} steps.",
                "Remove a step, or use one shape several times.",
            )
        read = tuple(Step.from_json(step) for step in steps)
        if len({step.id for step in read}) != len(read):
            raise RecipeError("Two steps of this recipe have the same number.", _AGAIN)
        return cls(read)

    def with_step(self, step: Step) -> Self:
        """The recipe with this step in the place of the one with its id."""
        return replace(
            self, steps=tuple(step if each.id == step.id else each for each in self.steps)
        )


def checked(field: Field, value: object, step_id: str = "") -> Value:
    """The value, if the field takes it. Raises RecipeError, which says what it does take."""
    match field.sort:
        case Sort.TEXT:
            if not isinstance(value, str):
                raise RecipeError(
                    f"“{field.label}” is no text.", "Type it again.", step_id, field.name
                )
            text = plain_text(value, int(field.most), field.label, step_id, field.name)
            if len(text) < field.least:
                raise RecipeError(
                    f"“{field.label}” is empty.", "Type at least one.", step_id, field.name
                )
            return text
        case Sort.CHOICE:
            chosen = next((key for key, _ in field.choices if key == value), None)
            if chosen is None or not isinstance(value, str):
                raise RecipeError(
                    f"There is no such choice for “{field.label}”.",
                    "Choose from the list.",
                    step_id,
                    field.name,
                )
            return str(chosen)
        case _:
            return _number(field, value, step_id)


def _number(field: Field, value: object, step_id: str) -> float:
    between = f"Give a number from {field.least:g} to {field.most:g}{_UNITS.get(field.sort, '')}."
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise RecipeError(f"“{field.label}” is no number.", between, step_id, field.name)
    # Compared before it becomes a float: JSON knows whole numbers of any size.
    if not (field.least <= value <= field.most) or not math.isfinite(value):
        raise RecipeError(f"“{field.label}” is out of bounds.", between, step_id, field.name)
    if field.sort is Sort.COUNT and value != int(value):
        raise RecipeError(f"“{field.label}” is no whole number.", between, step_id, field.name)
    return round(float(value), 4)


def plain_text(text: str, most: int, what: str, step_id: str = "", field: str = "") -> str:
    """The text in composed signs and single spaces. Raises RecipeError for control signs."""
    if len(text) > 4 * most:
        raise RecipeError(f"The {what} is too long.", f"Use at most {most} signs.", step_id, field)
    plain = " ".join(unicodedata.normalize("NFC", text).split(" ")).strip()
    if any(not sign.isprintable() for sign in plain):
        raise RecipeError(
            f"The {what} holds a sign that cannot be seen.", "Type it again.", step_id, field
        )
    if len(plain) > most:
        raise RecipeError(f"The {what} is too long.", f"Use at most {most} signs.", step_id, field)
    return plain


_UNITS = {
    Sort.LENGTH: " mm",
    Sort.PLACE: " mm",
    Sort.ANGLE: " degrees",
    Sort.PERCENT: " percent",
}
_AGAIN = "Load the page again."
