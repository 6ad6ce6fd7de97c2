"""Where does a project stand, and what is done next by whom? Pure: facts in, one answer out.

The first page, the project's page, the trail of its stages and the refusals all ask here, so
that none of them sends a person elsewhere than the others.
"""

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
    REVIEW = "review"
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


@dataclass(frozen=True, slots=True)
class PatternNow:
    """The current version: `stops` keep it from being handed in; `built` of shapes, with no line
    corrected since."""

    number: int
    stops: int = 0
    built: bool = False
    remark: str = ""


@dataclass(frozen=True, slots=True)
class BenchNow:
    """The step whose turn it is; `phase` as `studio.bench_rules.Phase` names it."""

    title: str
    phase: str
    until: dt.datetime | None = None
    permit: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """Everything that the answer rests on.

    `shut` says why the brief takes no patterns, in a sentence. `building`: shapes are being put
    together that are no version yet. `placing`: the live plan is worked out at this moment.
    `others_at_work`: other projects of the same plan whose pieces are not made.
    """

    stage: str
    student: str = ""
    left: str = ""
    shut: str = ""
    metal_chosen: bool = True
    pattern: PatternNow | None = None
    building: bool = False
    has_plan: bool = False
    placing: bool = False
    bench: BenchNow | None = None
    others_at_work: int = 0


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


YOURS, WAITING, DONE = Turn.YOURS, Turn.WAITING, Turn.DONE


def next_for_student(now: Standing) -> Next:
    """What the project's own student does next."""
    if now.left and now.stage != Stage.CLOSED:
        return Next(WAITING, "Left the course", now.left, "See your project", Place.PROJECT)
    match now.stage:
        case Stage.DRAWING | Stage.RETURNED:
            return _draws(now)
        case Stage.HANDED_IN:
            return Next(
                WAITING,
                "Your teacher looks at your pattern",
                "Until then you can take it back on its page.",
                "See your pattern",
                Place.PATTERN,
            )
        case Stage.APPROVED:
            return _is_placed(now)
        case Stage.PLANNED:
            return Next(
                YOURS,
                "Fetch your metal",
                "Your cut plan is approved and the metal is reserved. Your teacher hands it out.",
                "See the cut plan",
                Place.PLAN,
            )
        case Stage.BENCH:
            return _saws(now)
        case Stage.MADE:
            return _brings_back(now)
        case _:
            return Next(
                DONE,
                "Finished",
                "Your piece is made and its metal settled. See what it used and cost.",
                "See your costs",
                Place.PROJECT,
            )


def _draws(now: Standing) -> Next:
    if now.shut:
        return Next(WAITING, "No more patterns here", now.shut, "See your project", Place.PROJECT)
    pattern = now.pattern
    if pattern is None and now.building:
        return Next(
            YOURS,
            "Go on building",
            "Your shapes are kept. Press “Use this drawing” when they are as you want them.",
            "Go on building",
            Place.BUILD,
        )
    if pattern is None:
        return Next(
            YOURS,
            "Bring your pattern",
            "Draw the outline of your piece and its windows and upload it, on paper or as a file; "
            "or build it from shapes here.",
            "Bring a pattern",
            Place.UPLOAD,
        )
    if now.stage == Stage.RETURNED:
        return _mends(pattern)
    if pattern.stops:
        places = "1 place" if pattern.stops == 1 else f"{pattern.stops} places"
        text = f"{places} must be mended before you can hand it in."
        if pattern.built:
            return Next(YOURS, "Mend the stops", text, "Change the shapes", Place.BUILD)
        return Next(YOURS, "Mend the stops", text, "See what to mend", Place.PATTERN)
    if not now.metal_chosen:
        text = "It has no stop. Say which metal it is for, then hand it in."
        return Next(YOURS, "Choose the metal", text, "Choose the metal", Place.PATTERN)
    text = "It has no stop. Look at it once more, then hand it in."
    return Next(YOURS, "Hand your pattern in", text, "Look and hand in", Place.PATTERN)


def _mends(pattern: PatternNow) -> Next:
    returned = f"Your teacher returned pattern {pattern.number}. Read the remark, then "
    if pattern.built:
        return Next(
            YOURS,
            "Mend your pattern",
            returned + "change the shapes and use the new drawing.",
            "Change the shapes",
            Place.BUILD,
            quote=pattern.remark,
        )
    return Next(
        YOURS,
        "Mend your pattern",
        returned + "correct its lines here, or upload a mended drawing.",
        "See what to mend",
        Place.PATTERN,
        quote=pattern.remark,
    )


def _is_placed(now: Standing) -> Next:
    if not now.has_plan:
        return Next(
            WAITING,
            "Your pattern is approved",
            "Your teacher will place it on metal, often together with others.",
            "See your project",
            Place.PROJECT,
        )
    if now.placing:
        return Next(
            WAITING,
            "Your pieces are being placed on the metal",
            "You can watch. Your teacher decides on the plan when it is done.",
            "Watch",
            Place.PLAN,
        )
    return Next(
        WAITING,
        "Your cut plan is ready",
        "It waits for your teacher, who approves it or tries again.",
        "See the cut plan",
        Place.PLAN,
    )


def _saws(now: Standing) -> Next:
    step = now.bench
    if step is None:
        return Next(WAITING, "All steps are signed", "", "See the bench", Place.BENCH)
    match step.phase:
        case "to check":
            text = "Show it to your teacher, who checks and signs it."
            return Next(WAITING, step.title, text, "See the step", Place.BENCH)
        case "waiting":
            text = f"{step.title}: not ready yet."
            return Next(WAITING, step.title, text, "See the step", Place.BENCH, until=step.until)
        case "blocked" if step.permit:
            text = (
                f"“{step.title}” needs the bench permit “{step.permit}”. Read its lesson, then "
                "show your teacher what it asks for."
            )
            return Next(YOURS, "A permit is missing", text, "Read the lesson", Place.LESSON)
        case _:
            title = f"Next at the bench: {step.title}"
            text = "Its cautions and what to do stand on the bench page."
            return Next(YOURS, title, text, "Go to the bench", Place.BENCH)


def _brings_back(now: Standing) -> Next:
    if now.others_at_work:
        return Next(
            WAITING,
            "Made!",
            f"{_others(now.others_at_work)} from the same metal, so it stays with them. Your scrap "
            "goes to your teacher; the rest comes back when everybody is done.",
            "See your project",
            Place.PROJECT,
        )
    return Next(
        YOURS,
        "Made!",
        "Bring the metal that is left and your scrap to your teacher.",
        "See your project",
        Place.PROJECT,
    )


def _others(count: int) -> str:
    return "1 other still saws" if count == 1 else f"{count} others still saw"


def next_for_teacher(now: Standing) -> Next:
    """What a teacher of the course does next about the project."""
    who = now.student
    if now.left and now.stage != Stage.CLOSED:
        return Next(WAITING, "Left the course", now.left, "", Place.PROJECT)
    match now.stage:
        case Stage.DRAWING:
            title = "The pattern is being drawn"
            label = "See the pattern" if now.pattern else ""
            return Next(WAITING, title, f"{who} has not handed it in.", label, Place.PATTERN)
        case Stage.RETURNED:
            title, text = "The pattern is being mended", f"You returned it to {who}."
            return Next(WAITING, title, text, "See the pattern", Place.PATTERN)
        case Stage.HANDED_IN:
            text = f"{who} is waiting for your answer."
            return Next(YOURS, "Look at the pattern", text, "Review the pattern", Place.REVIEW)
        case Stage.APPROVED if not now.has_plan:
            text = "The pattern is approved, and no cut plan holds it yet."
            return Next(YOURS, "Place it on metal", text, "Make a cut plan", Place.NEW_PLAN)
        case Stage.APPROVED if now.placing:
            text = "The plan can be decided on when the placing is done, or stopped before."
            title = "The pieces are being placed"
            return Next(WAITING, title, text, "To the cut plan", Place.PLAN)
        case Stage.APPROVED:
            text = "Approve the plan to reserve the metal and set the money aside."
            return Next(YOURS, "Look at the cut plan", text, "To the cut plan", Place.PLAN)
        case Stage.PLANNED:
            text = "The metal is reserved and the money set aside."
            return Next(YOURS, "Hand out the metal", text, "To the cut plan", Place.PLAN)
        case Stage.BENCH:
            return _looks_after(now)
        case Stage.MADE if now.others_at_work:
            text = f"{_others(now.others_at_work)} from the same metal."
            return Next(WAITING, "The piece is made", text, "To the cut plan", Place.PLAN)
        case Stage.MADE:
            text = "The piece is made. Offcuts go to the rack, scrap is weighed."
            title = "Take the metal back"
            return Next(YOURS, title, text, "Take the metal back", Place.METAL_BACK)
        case _:
            text = "The metal is settled."
            return Next(DONE, "Closed", text, "See the cut plan", Place.PLAN)


def _looks_after(now: Standing) -> Next:
    step = now.bench
    if step is None:
        return Next(WAITING, "All steps are signed", "", "See the bench", Place.BENCH)
    if step.phase == "to check":
        text = f"{now.student} asks for your signature."
        return Next(YOURS, f"Check and sign: {step.title}", text, "See the step", Place.BENCH)
    if step.phase == "blocked":
        text = f"{step.title} cannot begin."
        if step.permit:
            text = f"{step.title} needs the bench permit “{step.permit}”."
        title = f"{now.student} is stopped at the bench"
        return Next(YOURS, title, text, "See the step", Place.BENCH)
    title = f"At the bench: {step.title}"
    return Next(WAITING, title, "", "See the step", Place.BENCH, until=step.until)


def why_pattern_is_fixed(stage: str) -> str:
    """Why no version can be brought, built, changed or chosen now; "" while the pattern is open."""
    match stage:
        case Stage.DRAWING | Stage.RETURNED:
            return ""
        case Stage.HANDED_IN:
            return "The pattern is handed in. Take it back first if you want to change it."
        case Stage.APPROVED:
            return (
                "The pattern is approved already, so it can no longer be changed here. Ask your "
                "teacher to return it if it must change."
            )
        case Stage.PLANNED:
            return "The pattern is approved already and metal is reserved for it."
        case Stage.BENCH:
            return "The pattern is approved already and at the bench."
        case _:
            return "The pattern is approved already, and the piece is made."
