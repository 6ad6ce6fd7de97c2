"""The small picture to mark things in: upright, small, and nothing else of the file."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from studio.core.reading import PatternError
from studio.core.reading.showing import shown_small

TURNED = 6  # Exif: the row begins at the right, the camera was held upright


def photo(kind: str, **options: object) -> bytes:
    page = np.full((1500, 3000), 240, np.uint8)
    page[:200, :200] = 10  # the mark in the upper left corner
    kept = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = TURNED
    exif[0x010F] = "SecretCamera"
    Image.fromarray(page).save(kept, kind, exif=exif, **options)
    return kept.getvalue()


@pytest.mark.parametrize("kind", ["png", "jpeg", "webp", "tiff"])
def test_the_picture_is_upright_small_and_carries_nothing_else(kind: str) -> None:
    shown = shown_small(photo(kind), kind)
    assert (shown.width, shown.height) == (1500, 3000)
    assert b"SecretCamera" not in shown.jpeg
    assert b"Exif" not in shown.jpeg
    with Image.open(io.BytesIO(shown.jpeg)) as image:
        assert image.format == "JPEG"
        assert max(image.size) <= 2000
        values = np.asarray(image)
    assert values[20, -20] < 60, "turned a quarter, the mark is in the upper right corner"
    assert values[20, 20] > 200


def test_what_is_no_picture_is_refused_in_words() -> None:
    with pytest.raises(PatternError) as caught:
        shown_small(b"\x89PNG\r\n\x1a\n" + bytes(99), "png")
    assert caught.value.code == "picture-broken"
