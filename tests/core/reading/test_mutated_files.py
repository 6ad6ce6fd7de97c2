"""Two thousand damaged files of every kind, as the reading process meets them.

They run through the process's own code here; whatever would kill it, or hang, shows. A few of
them go through the real process as well.
"""

from __future__ import annotations

import io
import json
import random

import cv2
import numpy as np
import pytest

from studio.core.reading import ASK, TurnedDown, Upload, read_upload
from studio.core.reading.child import main
from studio.core.reading.rough import Asked
from studio.core.reading.scan.wire import packed

from .drawn import inked, svg
from .dxfs import by_hand, square

SVG = svg(
    inked(
        '<path d="M5 20C15 5 35 5 45 18L55 10V30L45 22C35 35 15 35 5 20z"/>'
        '<g transform="rotate(4)"><circle cx="12" cy="18" r="1.2"/></g>'
        '<path d="M25 15a8 8 0 010 10"/><rect x="20" y="16" width="4" height="8" rx="1"/>'
    )
).encode()
DXF = by_hand(
    [*square(30, "outlines"), 0, "CIRCLE", 8, "0", 10, 9, 20, 9, 40, 1.5, 0, "INSERT", 2, "B"],
    blocks=[0, "BLOCK", 2, "B", 10, 0, 20, 0, *square(3), 0, "ENDBLK"],
    head=[9, "$INSUNITS", 70, 4],
)
WILD = (b"NaN", b"1e400", b"-1", b"0", b"", b"999999999", b"\xff\xfe", b"<", b"&x;", b"INSERT")


def picture(kind: str) -> bytes:
    page = np.full((110, 140), 240, np.uint8)
    cv2.rectangle(page, (20, 20), (120, 90), 20, 5)
    return bytes(cv2.imencode(f".{kind}", page)[1].tobytes())


def whole(kind: str) -> bytes:
    return {"svg": SVG, "dxf": DXF}.get(kind) or picture(kind)


KINDS = ("svg", "dxf", "png", "jpeg", "tiff", "webp")


def damaged(data: bytes, chance: random.Random) -> bytes:
    """Cut short, bytes changed, dropped, doubled, or words of harm put in."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 5)):
        if len(made) < 8:
            break
        at = chance.randrange(4, len(made))
        match chance.randrange(6):
            case 0:
                del made[at:]
            case 1:
                del made[at : at + chance.randint(1, 40)]
            case 2:
                made[at:at] = made[at : at + chance.randint(1, 200)]
            case 3:
                made[at:at] = chance.choice(WILD)
            case _:
                made[at] = chance.randrange(256)
    return bytes(made)


def ending(data: bytes, kind: str) -> str:
    """How the reading of one file ends; anything but an answer fails."""
    answered = io.BytesIO()
    main(io.BytesIO(packed(data, kind, Asked(f"a.{kind}", dpi=300.0, unit=ASK))), answered)
    found = json.loads(answered.getvalue())
    (one,) = {"tracing", "refused", "unit"} & set(found)
    if one == "refused":
        code, message, mend, _ = found["refused"]
        assert code
        assert len(message) > 10
        assert len(mend) > 10
    return str(one)


@pytest.mark.parametrize("kind", KINDS)
def test_the_whole_file_is_read(kind: str) -> None:
    assert ending(whole(kind), kind) == "tracing"


@pytest.mark.parametrize("kind", KINDS)
def test_damaged_files_of_each_kind_are_read_or_refused_in_words(kind: str) -> None:
    chance = random.Random(f"{kind} 20")
    assert {ending(damaged(whole(kind), chance), kind) for _ in range(20)}


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_two_thousand_damaged_files_are_read_or_refused_in_words(kind: str) -> None:
    chance = random.Random(f"{kind} 340")
    ends = [ending(damaged(whole(kind), chance), kind) for _ in range(340)]
    assert {"tracing", "refused"} <= set(ends)


@pytest.mark.slow
@pytest.mark.usefixtures("own_process")
@pytest.mark.parametrize("kind", KINDS)
def test_the_real_process_answers_for_damaged_files_of_each_kind(kind: str) -> None:
    chance = random.Random(f"{kind} 10")
    for _ in range(10):
        asked = Asked(f"a.{kind}", dpi=300.0, unit=ASK)
        match read_upload(Upload(damaged(whole(kind), chance), asked)):
            case TurnedDown(why) if why.code.startswith("reading-"):
                pytest.fail(f"{kind}: the process came to no end: {why}")
