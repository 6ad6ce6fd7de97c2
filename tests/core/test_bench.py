"""Bench steps as a student gets them."""

from __future__ import annotations

import json
import math
import re
from decimal import Decimal

import pytest
from shapely.geometry import Point, Polygon, box

from classroom.safety import texts as safety_texts
from inventory import metals
from studio.core.bench.planned import PlannedBenchStep, wording_of, wording_sha
from studio.core.bench.steps import BenchError, steps_for, steps_for_drawing, window_width_mm
from studio.core.bench.texts import DEFERRAL, BenchStepKind
from studio.core.drawing import Drawing, DrillKind, DrillMark, Piece

TWENTY_GAUGE = Decimal("0.812")
PLAIN = Piece("1", box(0, 0, 40, 30))
WINDOWED = Piece(
    "1",
    Polygon(box(0, 0, 40, 30).exterior, [Point(20, 15).buffer(5).exterior]),
    (DrillMark(20, 27, 1.6, DrillKind.RING), DrillMark(20, 15, 1.0, DrillKind.PILOT)),
)


def kinds(steps: tuple[PlannedBenchStep, ...]) -> list[BenchStepKind]:
    return [step.kind for step in steps]


def step(kind: BenchStepKind, steps: tuple[PlannedBenchStep, ...]) -> PlannedBenchStep:
    return next(one for one in steps if one.kind is kind)


def test_pattern_with_windows_goes_through_all_seven_steps_in_order() -> None:
    assert kinds(steps_for("C11000", TWENTY_GAUGE, window_widths_mm=(8.0,))) == [
        BenchStepKind.PREPARE,
        BenchStepKind.ADHERE,
        BenchStepKind.DRY,
        BenchStepKind.DRILL,
        BenchStepKind.SAW,
        BenchStepKind.REMOVE,
        BenchStepKind.FINISH,
    ]


def test_no_holes_no_drill_step() -> None:
    steps = steps_for("C11000", TWENTY_GAUGE)
    assert BenchStepKind.DRILL not in kinds(steps)
    assert len(steps) == 6
    assert "first, while" not in " ".join(step(BenchStepKind.SAW, steps).do)


def test_only_a_ring_hole_still_needs_the_drill_but_no_pilot_hole() -> None:
    steps = steps_for("C11000", TWENTY_GAUGE, hole_diameters_mm=(1.6,))
    drilling = step(BenchStepKind.DRILL, steps)
    assert "1 other drill mark." in drilling.do[0]
    assert "pilot" not in wording_of(drilling)


def test_windows_are_sawn_before_outlines() -> None:
    saw = step(BenchStepKind.SAW, steps_for("C11000", TWENTY_GAUGE, window_widths_mm=(8.0, 6.0)))
    assert "all 2 windows first" in saw.do[1]
    assert "relaxed" in saw.do[-1]


def test_blade_stays_on_the_waste_side_which_in_a_window_is_inside() -> None:
    saw = " ".join(step(BenchStepKind.SAW, steps_for("C11000", TWENTY_GAUGE)).do)
    assert "outside an outline, inside a window" in saw


def test_drill_step_counts_the_holes_of_the_drawing_and_names_the_drills() -> None:
    drilling = step(
        BenchStepKind.DRILL, steps_for_drawing(Drawing((WINDOWED,)), "C11000", TWENTY_GAUGE)
    )
    assert "1 pilot hole and 1 other drill mark." in drilling.do[0]
    needs = " ".join(drilling.needs)
    assert "#73 (0.61 mm)" in needs
    assert "1/16 in (1.59 mm), for the marks of 1.6 mm" in needs
    assert "centre punch" in needs


def test_drawing_without_holes_has_no_drill_step() -> None:
    steps = steps_for_drawing(Drawing((PLAIN,)), "C11000", TWENTY_GAUGE)
    assert BenchStepKind.DRILL not in kinds(steps)


def test_unmarked_window_gets_a_pilot_hole_all_the_same() -> None:
    piece = Piece("1", WINDOWED.outline)
    drilling = step(
        BenchStepKind.DRILL, steps_for_drawing(Drawing((piece,)), "C11000", TWENTY_GAUGE)
    )
    assert "1 pilot hole." in drilling.do[0]


def test_window_width_is_the_widest_circle_that_fits() -> None:
    assert window_width_mm(box(0, 0, 20, 4)) == pytest.approx(4.0, abs=0.02)
    # Incircle of a 3-4-5 triangle has radius 1.
    triangle = Polygon([(0, 0), (4, 0), (0, 3)])
    assert window_width_mm(triangle) == pytest.approx(2.0, abs=0.02)
    assert window_width_mm(Point(0, 0).buffer(5, quad_segs=64)) == pytest.approx(10.0, abs=0.02)


def test_blade_and_teeth_are_advice_for_this_thickness() -> None:
    saw = step(BenchStepKind.SAW, steps_for("C11000", TWENTY_GAUGE))
    assert "2/0 blade" in saw.needs[0]
    assert any("about 1.8 teeth" in text for text in saw.notes)


def test_waiting_times_are_the_brief_s_and_only_drying_and_soaking_wait() -> None:
    steps = steps_for("C11000", TWENTY_GAUGE, dry_minutes=30, soak_minutes=7)
    assert {one.kind: one.wait_minutes for one in steps if one.wait_minutes} == {
        BenchStepKind.DRY: 30,
        BenchStepKind.REMOVE: 7,
    }


def test_usual_waiting_times_are_20_and_10_minutes() -> None:
    # Common practice, no source: 15 to 20 minutes to dry, 5 to 10 minutes to soak.
    steps = steps_for("C11000", TWENTY_GAUGE)
    assert step(BenchStepKind.DRY, steps).wait_minutes == 20
    assert step(BenchStepKind.REMOVE, steps).wait_minutes == 10


@pytest.mark.parametrize("minutes", [-1, 10_081, math.inf, math.nan])
def test_waiting_time_out_of_bounds_is_refused(minutes: int) -> None:
    with pytest.raises(BenchError, match="waiting time"):
        steps_for("C11000", TWENTY_GAUGE, dry_minutes=minutes)


def test_brief_chooses_who_signs() -> None:
    usual = steps_for("C11000", TWENTY_GAUGE, window_widths_mm=(8.0,))
    assert step(BenchStepKind.DRILL, usual).teacher_signs
    assert not step(BenchStepKind.SAW, usual).teacher_signs
    changed = steps_for(
        "C11000",
        TWENTY_GAUGE,
        window_widths_mm=(8.0,),
        teacher_signs=["saw"],
    )
    assert step(BenchStepKind.SAW, changed).teacher_signs
    assert not step(BenchStepKind.DRILL, changed).teacher_signs
    nobody = steps_for("C11000", TWENTY_GAUGE, teacher_signs=[])
    assert not any(one.teacher_signs for one in nobody)


def test_step_kind_that_does_not_exist_is_refused_by_name() -> None:
    with pytest.raises(BenchError, match="prepare, adhere, dry, drill, saw, remove, finish"):
        steps_for("C11000", TWENTY_GAUGE, teacher_signs=["polish"])


def test_brief_s_own_blade_sets_the_pilot_drill_and_is_only_advised_about() -> None:
    steps = steps_for("C11000", TWENTY_GAUGE, blade="8", window_widths_mm=(8.0,))
    saw = step(BenchStepKind.SAW, steps)
    assert saw.needs[0] == "saw frame with a No. 8 blade, and spares"
    assert "A 2/0 blade suits this thickness better." in saw.notes
    assert "#55" in " ".join(step(BenchStepKind.DRILL, steps).needs)


def test_brief_without_adhesive_has_nothing_to_dry_or_take_off() -> None:
    steps = steps_for("C11000", TWENTY_GAUGE, leave_out=[BenchStepKind.ADHERE])
    assert kinds(steps) == [BenchStepKind.PREPARE, BenchStepKind.SAW, BenchStepKind.FINISH]


def test_sawing_cannot_be_left_out() -> None:
    with pytest.raises(BenchError, match="Sawing"):
        steps_for("C11000", TWENTY_GAUGE, leave_out=[BenchStepKind.SAW])


@pytest.mark.parametrize("code", metals.ALLOY_CODES)
def test_every_step_of_every_metal_ends_its_cautions_by_deferring(code: str) -> None:
    for one in steps_for(code, TWENTY_GAUGE, window_widths_mm=(8.0,), hole_diameters_mm=(1.6,)):
        assert one.cautions[-1] == DEFERRAL
        assert set(one.permits) <= set(safety_texts.TOPIC_CODES)


def test_deferral_is_the_same_sentence_everywhere() -> None:
    assert DEFERRAL == safety_texts.DEFERRAL


def test_metal_s_own_cautions_stand_where_they_matter() -> None:
    steps = steps_for("C26000", TWENTY_GAUGE)
    finish = " ".join(step(BenchStepKind.FINISH, steps).cautions)
    assert "zinc fume" in finish
    assert "700 ppm" in finish
    assert "dust" in " ".join(step(BenchStepKind.SAW, steps).cautions)


def test_prepare_says_where_to_rub_and_how_to_see_that_it_is_clean() -> None:
    prepare = wording_of(steps_for("C11000", TWENTY_GAUGE)[0])
    assert "Only the metal that the pattern will cover" in prepare
    assert "320 grit is best" in prepare
    assert "no dark spots" in prepare
    assert "ASTM F22" in prepare


def test_stored_step_comes_back_word_for_word() -> None:
    for one in steps_for("C75200", 0.644, window_widths_mm=(3.0,), hole_diameters_mm=(1.6, 2.0)):
        again = PlannedBenchStep.from_json(json.loads(json.dumps(one.to_json())))
        assert again == one
        assert wording_sha(again) == wording_sha(one)


def test_changed_wording_changes_the_mark_of_what_was_signed() -> None:
    first, second = (
        steps_for("C11000", TWENTY_GAUGE, dry_minutes=minutes)[2] for minutes in (15, 20)
    )
    assert re.fullmatch(r"[0-9a-f]{64}", wording_sha(first))
    assert wording_sha(first) != wording_sha(second)
    assert "Waiting time: 15 minutes" in wording_of(first)


def test_signed_text_holds_every_word_that_was_shown() -> None:
    for one in steps_for("C11000", TWENTY_GAUGE, window_widths_mm=(8.0,)):
        text = wording_of(one)
        shown = (one.title, *one.do, *one.right_when, *one.cautions, *one.needs, *one.notes)
        for words in shown:
            assert words in text
        for mistake in one.usual_mistakes:
            assert mistake.what in text
            assert mistake.cause in text
            assert mistake.mend in text


def test_steps_never_claim_that_anything_is_safe_and_use_the_house_s_words() -> None:
    claims = re.compile(r"\b(safe|compliant|approved|osha)\b", re.IGNORECASE)
    foreign = re.compile(r"\b(cutouts?|remnants?|badges?|tasks?|parts?|nest\w*)\b", re.IGNORECASE)
    for code in metals.ALLOY_CODES:
        for one in steps_for(code, TWENTY_GAUGE, window_widths_mm=(8.0,)):
            text = wording_of(one)
            assert not claims.search(text)
            if code not in ("AG925", "AG999"):  # silver's fineness is told in parts of 1000
                assert not foreign.search(text)


def test_instructions_are_short_and_plain() -> None:
    for one in steps_for("C11000", TWENTY_GAUGE, window_widths_mm=(8.0,), hole_diameters_mm=(2,)):
        for text in (*one.do, *one.right_when):
            for sentence in re.split(r"(?<=[.!?:]) ", text):
                assert len(sentence.split()) <= 26, sentence


def test_unknown_metal_is_refused_by_name() -> None:
    with pytest.raises(metals.UnknownMetalError, match="C11000"):
        steps_for("C0", TWENTY_GAUGE)
