"""What is next, for every stage, kind of pattern, plan and step, and for both who may ask."""

from __future__ import annotations

from itertools import product

import pytest

from studio.core.standing import (
    BenchNow,
    PatternNow,
    Place,
    PlanNow,
    Stage,
    Standing,
    Turn,
    next_for_student,
    next_for_teacher,
    why_pattern_is_fixed,
)
from studio.models import Project
from studio.steps.bench.rules import Phase

FILE = PatternNow(2)
STOPPED = PatternNow(2, stops=3)
BUILT = PatternNow(2, built=True)
BUILT_STOPPED = PatternNow(2, stops=1, built=True)
RETURNED = PatternNow(2, remark="Rounder, please.")
RETURNED_LAYOUT = PatternNow(2, remark="Closer, please.", layout=True)
RETURNED_BUILT = PatternNow(2, built=True, remark="Rounder, please.")
PATTERNS = (None, FILE, STOPPED, BUILT, BUILT_STOPPED, RETURNED, RETURNED_LAYOUT, RETURNED_BUILT)
BENCHES = (
    None,
    *(BenchNow("Saw", str(phase)) for phase in Phase),
    BenchNow("Saw", "blocked", permit="Saws"),
)


def every_standing() -> list[Standing]:
    return [
        Standing(
            stage=stage,
            student="Wren",
            left=left,
            shut=shut,
            pattern=pattern,
            building=building,
            plan=plan,
            bench=bench,
            others_at_work=others,
            others_left=gone,
        )
        for stage, left, shut, pattern, building, plan, bench, (others, gone) in product(
            Stage,
            ("", "Has left."),
            ("", "Is closed."),
            PATTERNS,
            (False, True),
            (None, *PlanNow),
            BENCHES,
            ((0, 0), (2, 0), (2, 1), (2, 2)),
        )
    ]


def test_the_stages_and_phases_are_those_that_are_stored() -> None:
    assert {str(stage) for stage in Stage} == set(Project.Stage.values)
    named = {"to check", "waiting", "blocked"}
    assert named <= {str(phase) for phase in Phase}


def test_everybody_is_told_something_in_every_standing() -> None:
    for standing in every_standing():
        for answer in (next_for_student(standing), next_for_teacher(standing)):
            assert answer.title, standing
            assert answer.label or answer.turn is not Turn.YOURS, standing
            assert not answer.title.endswith("."), answer


def test_nobody_is_sent_where_nothing_can_be_done() -> None:
    drawing = {Stage.DRAWING, Stage.RETURNED}
    for standing in every_standing():
        student, teacher = next_for_student(standing), next_for_teacher(standing)
        if student.place in {Place.UPLOAD, Place.BUILD}:
            assert standing.stage in drawing, standing
            assert not standing.shut, standing
            assert not standing.left, standing
        if student.place is Place.PLAN:
            assert standing.plan or standing.stage == Stage.PLANNED, standing
        assert student.place not in {Place.ANSWER, Place.NEW_PLAN, Place.METAL_BACK}
        assert teacher.place not in {Place.UPLOAD, Place.BUILD, Place.LESSON}


def test_it_is_never_the_turn_of_both_but_where_metal_changes_hands() -> None:
    """Fetching, a missing permit and giving back need both; everything else has one owner."""
    both = {
        (standing.stage, standing.bench.phase if standing.bench else "")
        for standing in every_standing()
        if next_for_student(standing).turn is Turn.YOURS
        and next_for_teacher(standing).turn is Turn.YOURS
    }
    stages = {stage for stage, _ in both}
    assert stages == {Stage.PLANNED, Stage.BENCH, Stage.MADE}
    assert {phase for stage, phase in both if stage == Stage.BENCH} == {"blocked"}


@pytest.mark.parametrize(
    ("standing", "turn", "place", "words"),
    [
        (Standing(Stage.DRAWING), Turn.YOURS, Place.UPLOAD, "build it from shapes"),
        (Standing(Stage.DRAWING, building=True), Turn.YOURS, Place.BUILD, "Use this drawing"),
        (Standing(Stage.DRAWING, pattern=STOPPED), Turn.YOURS, Place.PATTERN, "3 places"),
        (Standing(Stage.DRAWING, pattern=BUILT_STOPPED), Turn.YOURS, Place.BUILD, "1 place"),
        (Standing(Stage.DRAWING, pattern=FILE), Turn.YOURS, Place.PATTERN, "hand it in"),
        (Standing(Stage.DRAWING, pattern=BUILT), Turn.YOURS, Place.PATTERN, "hand it in"),
        (
            Standing(Stage.DRAWING, pattern=FILE, metal_chosen=False),
            Turn.YOURS,
            Place.PATTERN,
            "which metal",
        ),
        (Standing(Stage.RETURNED, pattern=RETURNED), Turn.YOURS, Place.PATTERN, "upload a mended"),
        (
            Standing(Stage.RETURNED, pattern=RETURNED_LAYOUT),
            Turn.YOURS,
            Place.LAYOUT,
            "change the layout",
        ),
        (
            Standing(Stage.RETURNED, pattern=RETURNED_BUILT),
            Turn.YOURS,
            Place.BUILD,
            "change the shapes",
        ),
        (Standing(Stage.DRAWING, shut="Closed."), Turn.WAITING, Place.PROJECT, "Closed."),
        (Standing(Stage.HANDED_IN, pattern=FILE), Turn.WAITING, Place.PATTERN, "take it back"),
        (Standing(Stage.APPROVED), Turn.WAITING, Place.PROJECT, "place it on metal"),
        (Standing(Stage.APPROVED, plan=PlanNow.PLACING), Turn.WAITING, Place.PLAN, "can watch"),
        (Standing(Stage.APPROVED, plan=PlanNow.BROKE_OFF), Turn.WAITING, Place.PLAN, "broke off"),
        (
            Standing(Stage.APPROVED, plan=PlanNow.LEAVES_OVER),
            Turn.WAITING,
            Place.PLAN,
            "Not every piece",
        ),
        (Standing(Stage.APPROVED, plan=PlanNow.READY), Turn.WAITING, Place.PLAN, "approves it"),
        (Standing(Stage.PLANNED, plan=PlanNow.READY), Turn.YOURS, Place.PLAN, "hands it out"),
        (Standing(Stage.MADE), Turn.YOURS, Place.PROJECT, "Bring the metal"),
        (
            Standing(Stage.MADE, others_at_work=3, others_left=1),
            Turn.WAITING,
            Place.PROJECT,
            "2 others still saw from the same metal",
        ),
        (
            Standing(Stage.MADE, others_at_work=1, others_left=1),
            Turn.YOURS,
            Place.PROJECT,
            "Bring the metal",
        ),
        (Standing(Stage.CLOSED), Turn.DONE, Place.PROJECT, "used and cost"),
    ],
)
def test_what_a_student_does_next(standing: Standing, turn: Turn, place: Place, words: str) -> None:
    answer = next_for_student(standing)
    assert (answer.turn, answer.place) == (turn, place)
    assert words in f"{answer.title} {answer.text}"


@pytest.mark.parametrize(
    ("plan", "turn", "words"),
    [
        (None, Turn.YOURS, "New cut plan"),
        (PlanNow.PLACING, Turn.WAITING, "being placed"),
        (PlanNow.BROKE_OFF, Turn.YOURS, "Try again, or drop the plan"),
        (PlanNow.LEAVES_OVER, Turn.YOURS, "go on without what is left over"),
        (PlanNow.READY, Turn.YOURS, "Approve the plan"),
    ],
)
def test_what_a_teacher_does_about_an_approved_pattern(
    plan: PlanNow | None, turn: Turn, words: str
) -> None:
    answer = next_for_teacher(Standing(Stage.APPROVED, plan=plan))
    assert answer.turn is turn
    assert words in f"{answer.title} {answer.text} {answer.label}"


def test_a_teacher_takes_back_what_those_who_left_have_not_made() -> None:
    answer = next_for_teacher(Standing(Stage.MADE, others_at_work=2, others_left=2))
    assert (answer.turn, answer.place) == (Turn.YOURS, Place.METAL_BACK)
    assert "left the course" in answer.text


@pytest.mark.parametrize(
    ("bench", "student", "teacher"),
    [
        (BenchNow("Saw", "ready"), "Next at the bench: Saw", "At the bench: Saw"),
        (BenchNow("Saw", "at work"), "Next at the bench: Saw", "At the bench: Saw"),
        (BenchNow("Dry", "waiting"), "Dry", "At the bench: Dry"),
        (BenchNow("Saw", "to check"), "Saw", "Check and sign: Saw"),
        (BenchNow("Saw", "blocked", permit="Saws"), "A permit is missing", "Wren is stopped"),
        (None, "All steps are signed", "All steps are signed"),
    ],
)
def test_what_is_next_at_the_bench(bench: BenchNow | None, student: str, teacher: str) -> None:
    standing = Standing(Stage.BENCH, student="Wren", plan=PlanNow.READY, bench=bench)
    assert next_for_student(standing).title == student
    assert next_for_teacher(standing).title.startswith(teacher)


def test_a_remark_is_quoted_where_it_is_to_be_answered() -> None:
    for pattern in (RETURNED, RETURNED_BUILT):
        answer = next_for_student(Standing(Stage.RETURNED, pattern=pattern))
        assert answer.quote == "Rounder, please."
        assert "pattern 2" in answer.text


def test_whoever_may_not_change_the_pattern_is_told_why() -> None:
    fixed = {stage for stage in Stage if why_pattern_is_fixed(stage)}
    assert fixed == set(Stage) - {Stage.DRAWING, Stage.RETURNED}
