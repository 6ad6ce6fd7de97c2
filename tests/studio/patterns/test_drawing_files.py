"""The drawing of a pattern as a file to keep, for those who may see the project."""

from __future__ import annotations

import pytest
from django.urls import reverse

from studio.core.reading import assemble, read_pattern
from studio.models import Pattern
from tests.people import Cast, signed_in

from .making import OPEN, bring, make_project


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_four_people_before_the_drawing(cast: Cast, pattern: Pattern, kind: str) -> None:
    address = reverse("drawing_file", args=[pattern.pk, kind])
    people = (cast.teacher, cast.owner, cast.classmate, cast.outsider)
    answers = [signed_in(person).get(address).status_code for person in people]
    assert answers == [200, 200, 404, 404]


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_the_file_is_kept_not_shown_and_holds_the_drawing(
    cast: Cast, pattern: Pattern, kind: str
) -> None:
    answer = signed_in(cast.owner).get(reverse("drawing_file", args=[pattern.pk, kind]))
    assert answer["Content-Disposition"].startswith("attachment;")
    assert answer["Content-Disposition"].endswith(f'.{kind}"')
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer["Content-Security-Policy"]
    back = assemble(read_pattern(answer.content)).drawing
    assert back.area_mm2 == pytest.approx(pattern.drawing.area_mm2, abs=1e-3)
    kinds = [mark.kind for piece in back.pieces for mark in piece.drill_marks]
    assert kinds == [m.kind for piece in pattern.drawing.pieces for m in piece.drill_marks]


def test_there_is_no_other_kind_and_no_empty_drawing(cast: Cast, pattern: Pattern) -> None:
    client = signed_in(cast.owner)
    assert client.get(reverse("drawing_file", args=[pattern.pk, "pdf"])).status_code == 404
    assert client.post(reverse("drawing_file", args=[pattern.pk, "svg"])).status_code == 405


def test_a_pattern_without_a_piece_has_no_drawing_to_keep(cast: Cast) -> None:
    empty = bring(make_project(cast), OPEN)
    address = reverse("drawing_file", args=[empty.pk, "svg"])
    assert signed_in(cast.owner).get(address).status_code == 404
    page = signed_in(cast.owner).get(reverse("pattern", args=[empty.pk])).content.decode()
    assert address not in page
