"""What the apps above keep of a student: each tells it here, because imports run one way."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from django.db import models

from classroom.models import User

Searched = Mapping[type[models.Model], tuple[str, tuple[str, ...]]]
"""By model: the lookup of its school, and the fields in which people type free text."""


def _nothing(student: User) -> dict[str, int]:
    return {}


def _no_words(student: User) -> Iterable[str]:
    return ()


@dataclass(frozen=True, slots=True)
class Keeping:
    """One app's part. Every function takes the student; counts are by words such as "pattern
    files". `words` are titles and file names that the student typed, which the diary repeats,
    and `subjects` the names under which it tells of their things."""

    searched: Searched
    speaks_against: Callable[[User], Iterable[str]] = _no_words
    goes: Callable[[User], Mapping[str, int]] = _nothing
    stays: Callable[[User], Mapping[str, int]] = _nothing
    words: Callable[[User], Iterable[str]] = _no_words
    subjects: Callable[[User], Iterable[str]] = _no_words
    erase: Callable[[User], None] = field(default=lambda student: None)


keepings: dict[str, Keeping] = {}
"""By the app's label; an app enters itself when it is ready."""
