"""Metal has been handed out: the project gets its bench steps, with the wording of that day."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from django.db import transaction

from classroom.languages import LANGUAGES, SAY, in_language
from classroom.refusals import Refused
from inventory.metals import ENGLISH, Say
from inventory.models import Metal
from studio.core.bench.planned import PlannedBenchStep, SchoolWords, wording_sha
from studio.core.bench.steps import steps_for_drawing
from studio.core.bench.texts import BenchStepKind
from studio.core.drawing import Drawing
from studio.models import BenchStep, Brief, Pattern, PlanProject, Project

from .shared_metal import kinds_done_for_all
from .wording import school_words

Words = Callable[[str, Say], Sequence[PlannedBenchStep]]
"""Steps in a language, as `Say` has ours."""


@transaction.atomic
def make_bench_steps(project: Project) -> list[BenchStep]:
    """The project's bench steps in order; made on the first call, found on every later one.

    They come from the drawing that was placed (the approved pattern, all its copies), the cut
    plan's metal and the brief, in the school's newest words; ours in every language of the
    house, so that whoever signs signs what was shown. Later changes of brief or texts do
    not touch them: what is signed is what was shown. What is done once for all who share the
    metal is left out. Raises Refused when there is no approved pattern or metal, or when the brief
    names what does not exist.
    """
    # One writer at a time makes the steps of a project; on SQLite the transaction itself does it.
    Project.objects.select_for_update().get(pk=project.pk)
    made = list(project.bench_steps.order_by("number"))
    if made:
        return made
    pattern, metal = _what_is_made(project)
    for_all = kinds_done_for_all(project)

    def said(language: str, say: Say) -> list[PlannedBenchStep]:
        plans = _plans(project, pattern, metal, language, say)
        return [plan for plan in plans if plan.kind not in for_all]

    return BenchStep.objects.bulk_create(
        BenchStep(project=project, **fields) for fields in worded(said)
    )


def worded(said: Words) -> list[dict[str, Any]]:
    """The fields of the rows of these steps, in order: with their wording in every language of the
    house, so that whoever signs signs what was shown."""
    plans = said("en", ENGLISH)
    others: dict[str, Sequence[PlannedBenchStep]] = {}
    for language in LANGUAGES:
        if language != "en":
            with in_language(language):
                others[language] = said(language, SAY)
    return [
        {
            "number": number,
            "kind": str(plan.kind),
            "title": plan.title,
            "wording": plan.to_json() | {"in": _others(plan, others)},
            "wording_sha": wording_sha(plan),
            "permits": list(plan.permits),
            "wait_minutes": plan.wait_minutes,
            "teacher_signs": plan.teacher_signs,
        }
        for number, plan in enumerate(plans, start=1)
    ]


def steps_of(
    brief: Brief,
    pattern: Pattern,
    metal: Metal,
    words: Mapping[BenchStepKind, SchoolWords],
    say: Say = ENGLISH,
) -> tuple[PlannedBenchStep, ...]:
    """The steps that this pattern gets on this metal, in the school's `words` or else as `say` has
    ours.

    Raises ValueError when the brief or the metal names what the tables do not know.
    """
    return steps_for_drawing(
        Drawing(pattern.drawing.pieces * pattern.copies),
        metal.alloy_code,
        metal.thickness_mm,
        blade=brief.blade or None,
        dry_minutes=brief.dry_minutes,
        soak_minutes=brief.soak_minutes,
        teacher_signs=brief.teacher_signs,
        words=words,
        say=say,
    )


def _others(
    plan: PlannedBenchStep, others: Mapping[str, Sequence[PlannedBenchStep]]
) -> dict[str, dict[str, Any]]:
    """This step in each other language, with the hash that a sign-off in it names."""
    return {
        language: one.to_json() | {"sha": wording_sha(one)}
        for language, plans in others.items()
        for one in plans
        if one.kind == plan.kind
    }


def _plans(
    project: Project, pattern: Pattern, metal: Metal, language: str, say: Say
) -> tuple[PlannedBenchStep, ...]:
    brief = project.brief
    words = school_words(brief.course.school, language)
    try:
        return steps_of(brief, pattern, metal, words, say)
    except ValueError as error:  # every refusal of the pure tables is one
        raise Refused(
            f"The bench steps of {project} cannot be made: {error} Change the brief "
            f"“{brief.title}”, then hand the metal out."
        ) from error


def _what_is_made(project: Project) -> tuple[Pattern, Metal]:
    """The pattern that lies on the metal, and that metal."""
    share = (
        PlanProject.objects.filter(project=project, live=True)
        .select_related("pattern", "plan__metal")
        .first()
    )
    if share is not None:
        return share.pattern, share.plan.metal
    pattern = project.patterns.filter(state=Pattern.State.APPROVED).first()
    if pattern is None:
        raise Refused(f"{project} has no approved pattern, so there is nothing to make yet.")
    if project.metal is None:
        raise Refused(f"Choose the metal of {project} first.")
    return pattern, project.metal
