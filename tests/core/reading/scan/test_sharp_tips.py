"""Where two inked lines run together in a sharp tip, the tip is no line of its own."""

from __future__ import annotations

from collections import Counter

import pytest

from studio.core.drawing import Limits
from studio.core.mending import mends
from studio.core.reading import assemble, read_pattern
from studio.core.reading.proving.rendering import file_of, scanned
from studio.demo.inked import moonrise, photo_of_moonrise


@pytest.mark.parametrize("seed", range(3))
def test_the_tips_of_an_inked_crescent_are_not_read_as_surface_lines(seed: int) -> None:
    data = file_of(scanned(moonrise(), seed=seed), "PNG", dpi=(300, 300))
    (piece,) = assemble(read_pattern(data)).drawing.pieces
    assert len(piece.outline.interiors) == 3
    assert len(piece.surface_lines) == 1  # the waves
    assert len(piece.drill_marks) == 2


def test_the_demos_photo_is_read_as_it_was_drawn_and_offered_a_stencil() -> None:
    traced = read_pattern(photo_of_moonrise("letter"))
    assert traced.source.kind == "photo"
    found = assemble(traced)
    labels = Counter(str(label) for label in found.labels.values())
    assert labels == {"outline": 1, "window": 3, "surface": 1, "ring": 1, "rivet": 1}
    assert "circle" in {mend.code for mend in mends(traced, {}, Limits())}
