"""A list of findings says each thing once, and loses no point of the picture."""

from __future__ import annotations

from classroom.models import School
from studio.core.drawing import Finding, Weight
from studio.views.patterns.findings import SAME_SHOWN, numbered


def finding(weight: Weight, mm: float, x: float) -> Finding:
    return Finding("thin", weight, f"Only {mm:g} mm.", "Make it wider.", at=(x, 0.0), value_mm=mm)


def test_the_same_words_at_several_points_are_one_entry_with_all_numbers() -> None:
    one = numbered([finding(Weight.STOP, mm, x) for x, mm in enumerate((1, 1.4, 1, 1))], School())
    assert [(row.number, row.also) for row in one.shown] == [(1, (3, 4)), (2, ())]
    assert [each.at for each in one] == [(0, 0.0), (1, 0.0), (2, 0.0), (3, 0.0)]


def test_cautions_of_one_kind_are_folded_and_stops_never() -> None:
    many = range(SAME_SHOWN + 4)
    cautions = numbered([finding(Weight.CAUTION, 1 + i / 10, i) for i in many], School())
    assert (len(cautions.shown), len(cautions.folded)) == (SAME_SHOWN, 4)
    stops = numbered([finding(Weight.STOP, 1 + i / 10, i) for i in many], School())
    assert (len(stops.shown), len(stops.folded)) == (SAME_SHOWN + 4, 0)
