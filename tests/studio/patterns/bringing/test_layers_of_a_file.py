"""A DXF file's layers: listed for the student, and named as a whole."""

from __future__ import annotations

import pytest
from django.urls import reverse

from studio.models import Pattern
from tests.core.reading.dxfs import by_hand, square
from tests.people import Cast, signed_in
from tests.studio.patterns.making import bring, make_project

HELPING = [0, "LINE", 8, "HELP <b>", 10, 0, 20, 20, 11, 40, 21, 20]
CIRCLE = [0, "CIRCLE", 8, "HELP <b>", 10, 20, 20, 10, 40, 5]
HELPED = by_hand([*square(40, "SAW"), *HELPING, *CIRCLE], head=[9, "$INSUNITS", 70, 4])


@pytest.fixture
def pattern(cast: Cast) -> Pattern:
    return bring(make_project(cast), HELPED, filename="tag.dxf")


def test_the_layers_are_listed_with_their_lines(cast: Cast, pattern: Pattern) -> None:
    page = signed_in(cast.owner).get(reverse("pattern", args=[pattern.pk])).content.decode()
    assert "Layers of your file" in page
    assert "HELP &lt;b&gt;" in page
    assert "HELP <b>" not in page


def test_a_layer_is_left_out_and_taken_back_in_as_a_whole(cast: Cast, pattern: Pattern) -> None:
    client = signed_in(cast.owner)
    address = reverse("pattern_relabel", args=[pattern.pk])
    assert pattern.drawing.window_count == 1
    client.post(address, {"layer-0": "", "layer-1": "ignore"})
    pattern.refresh_from_db()
    assert pattern.relabels == {"2": "ignore", "3": "ignore"}
    assert pattern.drawing.area_mm2 == pytest.approx(1600)
    client.post(address, {"layer-1": "read"})
    pattern.refresh_from_db()
    assert pattern.relabels == {}


@pytest.mark.parametrize("sent", [{"layer-9": "ignore"}, {"layer-x": "ignore"}, {"layer-1": "<"}])
def test_layers_and_names_that_do_not_exist_change_nothing(
    cast: Cast, pattern: Pattern, sent: dict[str, str]
) -> None:
    signed_in(cast.owner).post(reverse("pattern_relabel", args=[pattern.pk]), sent)
    pattern.refresh_from_db()
    assert pattern.relabels == {}


def test_a_file_without_layers_shows_none(cast: Cast) -> None:
    pattern = bring(make_project(cast))
    page = signed_in(cast.owner).get(reverse("pattern", args=[pattern.pk])).content.decode()
    assert "Layers of your file" not in page
