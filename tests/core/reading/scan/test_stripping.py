"""What a camera writes about place, time and owner does not stay in the stored file."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from studio.core.reading.stripping import stripped

SECRETS = (b"Harbour Street", b"2026:11:25", b"Somebody's phone", b"a note to myself")


def picture() -> Image.Image:
    chance = np.random.default_rng(3)
    return Image.fromarray(chance.integers(0, 255, (40, 60, 3)).astype(np.uint8))


def notes(turn: int) -> Image.Exif:
    """Tags by the EXIF standard: 0x010E description, 0x0110 model, 0x8825 the place's folder."""
    exif = Image.Exif()
    exif[0x0112] = turn
    exif[0x010E] = "a note to myself"
    exif[0x0110] = "Somebody's phone"
    exif.get_ifd(0x8769)[0x9003] = "2026:11:25 10:00:00"
    exif.get_ifd(0x8825)[0x001D] = "2026:11:25"
    exif.get_ifd(0x8825)[0x001B] = b"Harbour Street"
    return exif


def saved(kind: str, turn: int, **options: Any) -> bytes:
    kept = io.BytesIO()
    picture().save(kept, kind, exif=notes(turn), dpi=(300, 300), **options)
    return kept.getvalue()


CASES: list[tuple[str, dict[str, Any]]] = [
    ("JPEG", {"quality": 85, "comment": "a note to myself"}),
    ("JPEG", {"quality": 85, "progressive": True}),
    ("PNG", {}),
    ("WEBP", {"lossless": True, "xmp": b"<x>a note to myself</x>"}),
    ("TIFF", {}),
]


@pytest.mark.parametrize("turn", [1, 6])
@pytest.mark.parametrize(("kind", "options"), CASES)
def test_notes_go_and_the_picture_with_its_turn_stays(
    kind: str, options: dict[str, Any], turn: int
) -> None:
    before = saved(kind, turn, **options)
    assert any(secret in before for secret in SECRETS)
    after = stripped(before, kind.lower())
    assert [secret for secret in SECRETS if secret in after] == []
    with Image.open(io.BytesIO(before)) as one, Image.open(io.BytesIO(after)) as other:
        assert other.getexif().get(0x0112, 1) == turn  # before decoding, which obeys a TIFF's
        assert np.array_equal(np.asarray(one), np.asarray(other))
        assert not other.getexif().get_ifd(0x8825) or kind == "TIFF"
        assert other.info.get("dpi") == one.info.get("dpi")


def test_text_chunks_of_a_png_and_a_second_picture_behind_a_jpeg_go() -> None:
    info = PngImagePlugin.PngInfo()
    info.add_text("Comment", "a note to myself")
    kept = io.BytesIO()
    picture().save(kept, "PNG", pnginfo=info)
    assert b"a note to myself" not in stripped(kept.getvalue(), "png")
    jpeg = saved("JPEG", 1)
    assert stripped(jpeg + jpeg, "jpeg") == stripped(jpeg, "jpeg")


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp", "tiff"])
def test_broken_files_come_back_whatever_they_are(kind: str) -> None:
    whole = saved(kind.upper(), 6)
    for length in range(12, len(whole), max(1, len(whole) // 60)):
        assert isinstance(stripped(whole[:length], kind), bytes)


def test_a_drawing_is_left_alone() -> None:
    assert stripped(b"<svg/>", "svg") == b"<svg/>"
