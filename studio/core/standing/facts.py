"""What an answer rests on, and what it is made of: plain data."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum


class Stage(StrEnum):
    """The stages of a project, as they are stored."""

    DRAWING = "drawing"
    HANDED_IN = "handed_in"
    RETURNED = "returned"
    APPROVED = "approved"
    PLANNED = "planned"
    BENCH = "bench"
    MADE = "made"
    CLOSED = "closed"


class Place(StrEnum):
    """Where the next thing is done."""

    PROJECT = "project"
    UPLOAD = "upload"
    BUILD = "build"
    PATTERN = "pattern"
    LAYOUT = "layout"
    ANSWER = "answer"
    NEW_PLAN = "new plan"
    PLAN = "plan"
    BENCH = "bench"
    LESSON = "lesson"
    METAL_BACK = "metal back"


class Turn(StrEnum):
    """Whose turn it is, seen by the one who asks."""

    YOURS = "yours"
    WAITING = "waiting"
    DONE = "done"


class PlanNow(StrEnum):
    """The live cut plan that holds the project, as far as it decides what is next."""

    PLACING = "placing"
    BROKE_OFF = "broke off"
    LEAVES_OVER = "leaves pieces over"
    READY = "ready"


@dataclass(frozen=True, slots=True)
class PatternNow:
    """The current version: `stops` keep it from being handed in; `built` of shapes, with no line
    corrected since; the remark may point at its `layout`."""

    number: int
    stops: int = 0
    built: bool = False
    remark: str = ""
    layout: bool = False


@dataclass(frozen=True, slots=True)
class BenchNow:
    """The step whose turn it is; `phase` as `studio.steps.bench.rules.Phase` names it, or
    "together" for a step that is done once for all who share the metal. `why` says, where shared
    metal is not theirs to work on yet, who has it."""

    title: str
    phase: str
    until: dt.datetime | None = None
    permit: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """Everything that the answer rests on.

    `shut` says why the brief takes no patterns, in a sentence. `metal_chosen`: one that the brief
    allows. `building`: shapes are on the builder's paper that are no version yet.
    `others_at_work`: other projects of the same plan whose pieces are not made; `others_left`:
    those of them whose students have left the course, so that nobody makes them any more.
    """

    stage: str
    student: str = ""
    left: str = ""
    shut: str = ""
    metal_chosen: bool = True
    pattern: PatternNow | None = None
    building: bool = False
    plan: PlanNow | None = None
    bench: BenchNow | None = None
    others_at_work: int = 0
    others_left: int = 0

    @property
    def waits_for_others(self) -> int:
        return self.others_at_work - self.others_left


@dataclass(frozen=True, slots=True)
class Next:
    """One thing to do, or to wait for; `quote` is the teacher's remark that it answers."""

    turn: Turn
    title: str
    text: str
    label: str
    place: Place
    quote: str = ""
    until: dt.datetime | None = None
