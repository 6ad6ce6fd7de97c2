"""Where does a project stand, and what is done next by whom? Pure: facts in, one answer out.

The first page, the project's page, the trail of its stages and the refusals all ask here, so
that none of them sends a person elsewhere than the others.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from inventory.metals import ENGLISH, Say


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


class PlanNow(StrEnum):
    """The live cut plan that holds the project, as far as it decides what is next."""

    PLACING = "placing"
    BROKE_OFF = "broke off"
    LEAVES_OVER = "leaves pieces over"
    READY = "ready"


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


YOURS, WAITING, DONE = Turn.YOURS, Turn.WAITING, Turn.DONE


def next_for_student(now: Standing, say: Say = ENGLISH) -> Next:
    """What the project's own student does next."""
    if now.left and now.stage != Stage.CLOSED:
        return _has_left(now, say)
    match now.stage:
        case Stage.DRAWING | Stage.RETURNED:
            return _draws(now, say)
        case Stage.HANDED_IN:
            return Next(
                WAITING,
                say("Your teacher looks at your pattern"),
                say("Until then you can take it back on its page."),
                say("See your pattern"),
                Place.PATTERN,
            )
        case Stage.APPROVED:
            return _is_placed(now, say)
        case Stage.PLANNED:
            return Next(
                YOURS,
                say("Fetch your metal"),
                say(
                    "Your cut plan is approved and the metal is reserved. Your teacher hands it "
                    "out."
                ),
                say("See the cut plan"),
                Place.PLAN,
            )
        case Stage.BENCH:
            return _saws(now, say)
        case Stage.MADE:
            return _brings_back(now, say)
        case _:
            return Next(
                DONE,
                say("Finished"),
                say("Your piece is made and its metal settled. See what it used and cost."),
                say("See your costs"),
                Place.PROJECT,
            )


def not_begun(say: Say = ENGLISH) -> Next:
    """What a student does about a brief without a project."""
    return Next(
        YOURS,
        say("You have not begun yet"),
        say("Read the brief, then start your project."),
        say("Read the brief"),
        Place.PROJECT,
    )


def _has_left(now: Standing, say: Say) -> Next:
    title, label = say("Left the course"), say("See the project")
    return Next(WAITING, title, say(now.left), label, Place.PROJECT)


def _draws(now: Standing, say: Say) -> Next:
    if now.shut:
        title, label = say("No more patterns here"), say("See your project")
        return Next(WAITING, title, say(now.shut), label, Place.PROJECT)
    pattern = now.pattern
    if pattern is None and now.building:
        return Next(
            YOURS,
            say("Go on building"),
            say("Your shapes are kept. Press “Use this drawing” when they are as you want them."),
            say("Go on building"),
            Place.BUILD,
        )
    if pattern is None:
        return Next(
            YOURS,
            say("Bring your pattern"),
            say(
                "Draw the outline of your piece and its windows and upload it, on paper or as a "
                "file; or build it from shapes here."
            ),
            say("Bring a pattern"),
            Place.UPLOAD,
        )
    if now.stage == Stage.RETURNED:
        return _mends(pattern, say)
    if pattern.stops:
        text = say.count_of(
            "%(count)s place must be mended before you can hand it in.",
            "%(count)s places must be mended before you can hand it in.",
            pattern.stops,
        ) % {"count": pattern.stops}
        title = say("Mend the stops")
        if pattern.built:
            return Next(YOURS, title, text, say("Change the shapes"), Place.BUILD)
        return Next(YOURS, title, text, say("See what to mend"), Place.PATTERN)
    if not now.metal_chosen:
        title = say("Choose the metal")
        text = say("It has no stop. Say which metal it is for, then hand it in.")
        return Next(YOURS, title, text, title, Place.PATTERN)
    text = say("It has no stop. Look at it once more, then hand it in.")
    return Next(YOURS, say("Hand your pattern in"), text, say("Look and hand in"), Place.PATTERN)


def _mends(pattern: PatternNow, say: Say) -> Next:
    title = say("Mend your pattern")
    number = {"number": pattern.number}
    if pattern.built:
        text = say(
            "Your teacher returned pattern %(number)s. Read the remark, then change the shapes "
            "and use the new drawing."
        )
        label = say("Change the shapes")
        return Next(YOURS, title, text % number, label, Place.BUILD, quote=pattern.remark)
    text = say(
        "Your teacher returned pattern %(number)s. Read the remark, then correct its lines here, "
        "or upload a mended drawing."
    )
    label = say("See what to mend")
    return Next(YOURS, title, text % number, label, Place.PATTERN, quote=pattern.remark)


def _is_placed(now: Standing, say: Say) -> Next:
    see = say("See the cut plan")
    match now.plan:
        case None:
            title = say("Your pattern is approved")
            text = say("Your teacher will place it on metal, often together with others.")
            return Next(WAITING, title, text, say("See your project"), Place.PROJECT)
        case PlanNow.PLACING:
            title = say("Your pieces are being placed on the metal")
            text = say("You can watch. Your teacher decides on the plan when it is done.")
            return Next(WAITING, title, text, say("Watch"), Place.PLAN)
        case PlanNow.BROKE_OFF:
            title = say("The placing broke off")
            text = say("Your teacher tries it again. There is nothing for you to do.")
            return Next(WAITING, title, text, see, Place.PLAN)
        case PlanNow.LEAVES_OVER:
            title = say("Not every piece has a place yet")
            text = say("Your teacher looks for more metal, or tries again.")
            return Next(WAITING, title, text, see, Place.PLAN)
        case _:
            title = say("Your cut plan is ready")
            text = say("It waits for your teacher, who approves it or tries again.")
            return Next(WAITING, title, text, see, Place.PLAN)


def _saws(now: Standing, say: Say) -> Next:
    step, label = now.bench, say("See the step")
    if step is None:
        return _all_signed(say)
    match step.phase:
        case "to check":
            text = say("Show it to your teacher, who checks and signs it.")
            return Next(WAITING, step.title, text, label, Place.BENCH)
        case "waiting":
            text = say("%(step)s: not ready yet.") % {"step": step.title}
            return Next(WAITING, step.title, text, label, Place.BENCH, until=step.until)
        case "blocked" if step.permit:
            text = say(
                "“%(step)s” needs the bench permit “%(permit)s”. Read its lesson, then show your "
                "teacher what it asks for."
            ) % {"step": step.title, "permit": step.permit}
            title, label = say("A permit is missing"), say("Read the lesson")
            return Next(YOURS, title, text, label, Place.LESSON)
        case _:
            title = say("Next at the bench: %(step)s") % {"step": step.title}
            text = say("Its cautions and what to do stand on the bench page.")
            return Next(YOURS, title, text, say("Go to the bench"), Place.BENCH)


def _all_signed(say: Say) -> Next:
    return Next(WAITING, say("All steps are signed"), "", say("See the bench"), Place.BENCH)


def _brings_back(now: Standing, say: Say) -> Next:
    title, label = say("Made!"), say("See your project")
    if now.waits_for_others > 0:
        text = say.count_of(
            "%(count)s other still saws from the same metal, so it stays with them. Bring your "
            "scrap to your teacher; the metal comes back when everybody is done.",
            "%(count)s others still saw from the same metal, so it stays with them. Bring your "
            "scrap to your teacher; the metal comes back when everybody is done.",
            now.waits_for_others,
        ) % {"count": now.waits_for_others}
        return Next(WAITING, title, text, label, Place.PROJECT)
    text = say("Bring the metal that is left and your scrap to your teacher.")
    return Next(YOURS, title, text, label, Place.PROJECT)


def next_for_teacher(now: Standing, say: Say = ENGLISH) -> Next:
    """What a teacher of the course does next about the project."""
    if now.left and now.stage != Stage.CLOSED:
        return _has_left(now, say)
    who = {"student": now.student}
    to_plan, see_pattern = say("To the cut plan"), say("See the pattern")
    match now.stage:
        case Stage.DRAWING:
            title = say("The pattern is being drawn")
            text = say("%(student)s has not handed it in.") % who
            return Next(WAITING, title, text, see_pattern if now.pattern else "", Place.PATTERN)
        case Stage.RETURNED:
            title = say("The pattern is being mended")
            text = say("You returned it to %(student)s.") % who
            return Next(WAITING, title, text, see_pattern, Place.PATTERN)
        case Stage.HANDED_IN:
            text = say("%(student)s is waiting for your answer.") % who
            title, label = say("Look at the pattern"), say("Review the pattern")
            return Next(YOURS, title, text, label, Place.REVIEW)
        case Stage.APPROVED:
            return _places(now, say)
        case Stage.PLANNED:
            text = say("The metal is reserved and the money set aside.")
            return Next(YOURS, say("Hand out the metal"), text, to_plan, Place.PLAN)
        case Stage.BENCH:
            return _looks_after(now, say)
        case Stage.MADE:
            return _takes_back(now, say)
        case _:
            label = say("See the cut plan")
            return Next(DONE, say("Closed"), say("The metal is settled."), label, Place.PLAN)


def _places(now: Standing, say: Say) -> Next:
    to_plan = say("To the cut plan")
    match now.plan:
        case None:
            text = say("The pattern is approved, and no cut plan holds it yet.")
            title, label = say("Place it on metal"), say("Make a cut plan")
            return Next(YOURS, title, text, label, Place.NEW_PLAN)
        case PlanNow.PLACING:
            title = say("The pieces are being placed")
            text = say("The plan can be decided on when the placing is done, or stopped before.")
            return Next(WAITING, title, text, to_plan, Place.PLAN)
        case PlanNow.BROKE_OFF:
            text = say("Try again, or drop the plan. The patterns stay approved.")
            return Next(YOURS, say("The placing broke off"), text, to_plan, Place.PLAN)
        case PlanNow.LEAVES_OVER:
            title = say("Not every piece has a place")
            text = say("Try again, with more metal, or go on without what is left over.")
            return Next(YOURS, title, text, to_plan, Place.PLAN)
        case _:
            text = say("Approve the plan to reserve the metal and set the money aside.")
            return Next(YOURS, say("Look at the cut plan"), text, to_plan, Place.PLAN)


def _looks_after(now: Standing, say: Say) -> Next:
    step, label = now.bench, say("See the step")
    if step is None:
        return _all_signed(say)
    words = {"student": now.student, "step": step.title, "permit": step.permit}
    if step.phase == "to check":
        title = say("Check and sign: %(step)s") % words
        text = say("%(student)s asks for your signature.") % words
        return Next(YOURS, title, text, label, Place.BENCH)
    if step.phase == "blocked":
        title = say("%(student)s is stopped at the bench") % words
        text = say("“%(step)s” cannot begin.") % words
        if step.permit:
            text = say("“%(step)s” needs the bench permit “%(permit)s”.") % words
        return Next(YOURS, title, text, label, Place.BENCH)
    title = say("At the bench: %(step)s") % words
    return Next(WAITING, title, "", label, Place.BENCH, until=step.until)


def _takes_back(now: Standing, say: Say) -> Next:
    if now.waits_for_others > 0:
        text = say.count_of(
            "%(count)s other still saws from the same metal.",
            "%(count)s others still saw from the same metal.",
            now.waits_for_others,
        ) % {"count": now.waits_for_others}
        title, label = say("The piece is made"), say("To the cut plan")
        return Next(WAITING, title, text, label, Place.PLAN)
    title = say("Take the metal back")
    text = say("The piece is made. Offcuts go to the rack, scrap is weighed.")
    if now.others_left:
        text = say("The piece is made. Who has left the course is given up there, with a reason.")
    return Next(YOURS, title, text, title, Place.METAL_BACK)


def how_to_mend(*, built: bool) -> str:
    """What a student does about a version that has stops or was returned."""
    if built:
        return "Change the shapes and use the new drawing, or correct its lines here."
    return "Correct its lines here, or change your drawing and upload it again."


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
