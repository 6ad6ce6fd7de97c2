"""One metal seen from the bench."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory import metals


def test_20_gauge_copper_gets_the_usual_blade_and_its_pilot_drill() -> None:
    facts = metals.bench_facts(
        "C11000", Decimal("0.812"), window_widths_mm=(4.0,), hole_diameters_mm=(1.6, 1.6)
    )
    assert facts.metal_name == "copper"
    assert facts.thickness_label == "0.812 mm, 20 ga (B&S)"
    assert "2/0 blade" in facts.saw_tools[0]
    assert facts.pilot_tools[0].startswith("#73 (0.61 mm)")
    assert facts.pilot_tools[1].startswith("#60 (1.02 mm)")
    assert facts.hole_tools == ("1/16 in (1.59 mm), for the marks of 1.6 mm",)


def test_no_windows_means_no_pilot_drill() -> None:
    facts = metals.bench_facts("C11000", Decimal("0.812"))
    assert facts.pilot_tools == ()
    assert facts.hole_tools == ()


def test_window_narrower_than_the_pilot_drill_is_pointed_out() -> None:
    facts = metals.bench_facts("C11000", Decimal("0.812"), window_widths_mm=(0.4, 3.0))
    assert "One window is narrower" in facts.pilot_notes[0]
    assert len(facts.pilot_tools) == 1


def test_sheet_too_thin_for_any_blade_asks_for_a_backing_sheet() -> None:
    facts = metals.bench_facts("C11000", Decimal("0.255"))
    assert any("backing sheet" in note for note in facts.saw_notes)


def test_hole_wider_than_any_listed_drill_sends_the_student_to_the_teacher() -> None:
    facts = metals.bench_facts("C11000", Decimal("0.812"), hole_diameters_mm=(9.0,))
    assert facts.hole_tools == ("drill for the marks of 9 mm: ask the teacher for that size",)


def test_a_mark_is_told_as_on_the_papers_and_once_where_two_read_the_same() -> None:
    facts = metals.bench_facts("C11000", Decimal("0.812"), hole_diameters_mm=(1.125, 1.1251))
    assert facts.hole_tools == ("#57 (1.09 mm), for the marks of 1.13 mm",)


def test_brass_brings_its_cautions_to_the_bench() -> None:
    facts = metals.bench_facts("C26000", Decimal("0.812"))
    assert any("zinc fume" in text for text in facts.heat_cautions)
    assert any("700 ppm" in text for text in facts.wear_cautions)


def test_unknown_alloy_is_refused() -> None:
    with pytest.raises(metals.UnknownMetalError):
        metals.bench_facts("unobtainium", Decimal("0.8"))
