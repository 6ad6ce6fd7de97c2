"""What comes of an upload is a value: read, asks for its size, asks for its unit, or refused."""

from __future__ import annotations

import io

import pytest

from studio.core.reading import (
    ASK,
    Asked,
    AsksSize,
    AsksUnit,
    PatternError,
    Read,
    TurnedDown,
    Upload,
    read_upload,
)
from studio.core.reading.outcomes import unread
from studio.core.reading.uploads import require_picture, require_readable

from .drawn import inked, svg
from .dxfs import by_hand, square

DISC = svg(inked('<circle cx="20" cy="20" r="9"/>')).encode()
PICTURE = b"\x89PNG\r\n\x1a\n and no more"
NO_SIZE = PatternError("size-unknown", "How large is it?", "Say so.")


def test_a_drawing_is_read() -> None:
    assert isinstance(read_upload(Upload(DISC, Asked("disc.svg"))), Read)


def test_a_drawing_that_names_no_unit_asks_for_it_with_its_size_in_units() -> None:
    found = read_upload(Upload(by_hand(square(20)), Asked("a.dxf", unit=ASK)))
    assert isinstance(found, AsksUnit)
    assert found.why.width == pytest.approx(20)


def test_what_nobody_can_read_is_turned_down_in_words() -> None:
    found = read_upload(Upload(b"<svg", Asked("a.svg")))
    assert isinstance(found, TurnedDown)
    assert found.why.mend


def test_only_a_picture_asks_for_its_size() -> None:
    assert isinstance(unread(Upload(PICTURE, Asked("a.png")), NO_SIZE), AsksSize)
    assert isinstance(unread(Upload(DISC, Asked("a.svg")), NO_SIZE), TurnedDown)


def test_an_upload_knows_its_kind_and_a_harmless_name() -> None:
    taken = Upload.taken(io.BytesIO(PICTURE), Asked("../../My scan.png"))
    assert (taken.name, taken.kind, taken.is_picture) == ("My scan.png", "png", True)
    require_readable(taken)
    require_picture(taken)


def test_nothing_can_be_marked_in_a_drawing() -> None:
    with pytest.raises(PatternError, match="Only in a scan or photo"):
        require_picture(Upload(DISC, Asked("disc.svg")))
