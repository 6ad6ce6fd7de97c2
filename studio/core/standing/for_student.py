"""What a student does next."""

from __future__ import annotations

from inventory.metals import ENGLISH, Say

from .facts import Next, PatternNow, Place, PlanNow, Stage, Standing, Turn
from .for_both import all_signed, has_left

YOURS, WAITING, DONE = Turn.YOURS, Turn.WAITING, Turn.DONE


def next_for_student(now: Standing, say: Say = ENGLISH) -> Next:
    """What the project's own student does next."""
    if now.left and now.stage != Stage.CLOSED:
        return has_left(now, say)
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
    if pattern.layout:
        text = say(
            "Your teacher handed back pattern %(number)s with its layout. Read the remark, then "
            "change the layout and hand it in again."
        )
        title, label = say("Mend your layout"), say("To the layout table")
        return Next(YOURS, title, text % number, label, Place.LAYOUT, quote=pattern.remark)
    if pattern.built:
        text = say(
            "Your teacher handed back pattern %(number)s. Read the remark, then change the shapes "
            "and use the new drawing."
        )
        label = say("Change the shapes")
        return Next(YOURS, title, text % number, label, Place.BUILD, quote=pattern.remark)
    text = say(
        "Your teacher handed back pattern %(number)s. Read the remark, then correct its lines "
        "here, or upload a mended drawing."
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
        return all_signed(say)
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
        case "shared":
            return Next(WAITING, say("Not your turn yet"), step.why, label, Place.BENCH)
        case "together":
            title = say("Next for all who share the metal: %(step)s") % {"step": step.title}
            text = say("It is done once for the whole stock piece. The bench page leads there.")
            return Next(YOURS, title, text, say("Go to the bench"), Place.BENCH)
        case _:
            title = say("Next at the bench: %(step)s") % {"step": step.title}
            text = say("Its cautions and what to do stand on the bench page.")
            return Next(YOURS, title, text, say("Go to the bench"), Place.BENCH)


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
