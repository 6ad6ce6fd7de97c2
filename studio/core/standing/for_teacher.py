"""What a teacher does next about a student's project."""

from __future__ import annotations

from inventory.metals import ENGLISH, Say

from .facts import Next, Place, PlanNow, Stage, Standing, Turn
from .for_both import all_signed, has_left

YOURS, WAITING, DONE = Turn.YOURS, Turn.WAITING, Turn.DONE


def next_for_teacher(now: Standing, say: Say = ENGLISH) -> Next:
    """What a teacher of the course does next about the project."""
    if now.left and now.stage != Stage.CLOSED:
        return has_left(now, say)
    who = {"student": now.student}
    to_plan, see_pattern = say("To the cut plan"), say("See the pattern")
    match now.stage:
        case Stage.DRAWING:
            title = say("The pattern is being drawn")
            text = say("%(student)s has not handed it in.") % who
            return Next(WAITING, title, text, see_pattern if now.pattern else "", Place.PATTERN)
        case Stage.RETURNED:
            title = say("The pattern is being mended")
            text = say("You handed it back to %(student)s.") % who
            return Next(WAITING, title, text, see_pattern, Place.PATTERN)
        case Stage.HANDED_IN:
            text = say("%(student)s is waiting for your answer.") % who
            title = say("Look at the pattern")
            return Next(YOURS, title, text, title, Place.ANSWER)
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
            title, label = say("Place it on metal"), say("New cut plan")
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
        return all_signed(say)
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
    return Next(WAITING, title, step.why, label, Place.BENCH, until=step.until)


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
