"""The shapes of a lesson and of a question."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Lesson:
    """A topic's title, its lesson points and what the teacher watches, a line each."""

    title: str
    lesson: tuple[str, ...]
    checks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """One question with one right answer; `why` is shown after the answer was given."""

    text: str
    right: str
    wrong: tuple[str, ...]
    why: str
