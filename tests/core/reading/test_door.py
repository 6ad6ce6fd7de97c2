"""The app's own door: every kind of file in a process that may die without taking us along."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest

from studio.core.confining import Stopped
from studio.core.reading import (
    ASK,
    Asked,
    AsksUnit,
    PatternError,
    Read,
    Tracing,
    TurnedDown,
    Upload,
    door,
    read_pattern,
    read_upload,
)

from .drawn import inked, svg
from .dxfs import by_hand, square

ROOT = Path(__file__).resolve().parents[3]
FISH = svg(inked('<path d="M5 20C15 5 35 5 45 18L55 10V30z"/><circle cx="9" cy="19" r="1"/>'))
BARE = by_hand(square(20))

pytestmark = pytest.mark.usefixtures("own_process")


def read_well(data: bytes, filename: str = "a.dxf", unit: str | None = None) -> Tracing:
    match read_upload(Upload(data, Asked(filename, unit=unit))):
        case Read(tracing):
            return tracing
        case other:
            pytest.fail(f"not read: {other.why}")


def turned_down(data: bytes, filename: str = "", unit: str | None = None) -> PatternError:
    match read_upload(Upload(data, Asked(filename, unit=unit))):
        case TurnedDown(why):
            return why
        case other:
            pytest.fail(f"not turned down: {other}")


def test_a_drawing_comes_back_as_it_is_read_without_the_door() -> None:
    for data, name in ((FISH.encode(), "fish.svg"), (BARE, "square.dxf")):
        assert read_well(data, name) == read_pattern(data, filename=name)


def test_a_refusal_comes_back_word_for_word() -> None:
    for data in (b"<svg", b"  0\nSECTION\n", b"\x89PNG\r\n" + bytes(99)):
        with pytest.raises(PatternError) as here:
            read_pattern(data)
        there = turned_down(data)
        assert str(there) == str(here.value)
        assert there.code == here.value.code


def test_reading_a_drawing_loads_no_parser_into_the_web_process(tmp_path: Path) -> None:
    asked = (
        "import sys; from studio.core.reading import Asked, Upload, read_upload\n"
        "data = open(sys.argv[1], 'rb').read()\n"
        "found = read_upload(Upload(data, Asked('a.dxf')))\n"
        "assert len(found.tracing.lines) == 1\n"
        "assert 'ezdxf' not in sys.modules, 'loaded'\n"
    )
    file = tmp_path / "square.dxf"
    file.write_bytes(BARE)
    done = subprocess.run(
        [sys.executable, "-c", asked, str(file)], cwd=ROOT, check=False, capture_output=True
    )
    assert done.returncode == 0, done.stderr.decode()


@pytest.mark.parametrize("why", ["time", "busy", "died"])
def test_a_process_that_comes_to_no_end_becomes_a_refusal_in_words(
    monkeypatch: pytest.MonkeyPatch, why: str
) -> None:
    def stop(*given: object, **options: object) -> bytes:
        raise Stopped(why)

    monkeypatch.setattr(door, "confined", stop)
    refused = turned_down(BARE, "a.dxf")
    assert refused.code == f"reading-{why}"
    assert refused.mend


@pytest.mark.parametrize("reply", [b"", b"{", b"{}", b"[]", b'{"tracing": {"lines": 3}}'])
def test_a_garbled_answer_becomes_a_refusal_in_words(
    monkeypatch: pytest.MonkeyPatch, reply: bytes
) -> None:
    monkeypatch.setattr(door, "confined", lambda *given, **options: reply)
    assert turned_down(BARE, "a.dxf").code == "reading-died"


def test_a_file_too_large_is_refused_before_any_process_is_started(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(door, "confined", lambda *given, **options: pytest.fail("started"))
    for data in (b"<svg" + bytes(5_000_000), b"0\nSECTION\n" * 600_000, b"hello", b""):
        assert turned_down(data).mend


def test_a_drawing_without_a_unit_asks_for_it_and_says_its_size_in_units() -> None:
    asks = read_upload(Upload(BARE, Asked("a.dxf", unit=ASK)))
    assert isinstance(asks, AsksUnit)
    assert (asks.why.width, asks.why.height) == (20.0, 20.0)


@pytest.mark.parametrize(
    # The inch is 25.4 mm by definition (international yard and pound agreement, 1959).
    ("unit", "size"),
    [("mm", 20.0), ("cm", 200.0), ("in", 508.0)],
)
def test_the_unit_that_is_named_gives_the_size(unit: str, size: float) -> None:
    tracing = read_well(BARE, unit=unit)
    assert tracing.bounds_mm == pytest.approx((0, 0, size, size))
    assert (tracing.source.units, tracing.source.scale_from) == (unit, "unit")
    assert tracing.findings == ()


def test_a_unit_in_the_file_is_stronger_than_one_that_is_named() -> None:
    data = by_hand(square(2), head=[9, "$INSUNITS", 70, 5])
    for unit in (ASK, "in", None):
        assert read_well(data, unit=unit).bounds_mm[2] == pytest.approx(20)


def test_a_drawing_made_in_metres_can_say_so_though_it_is_a_speck_in_millimetres() -> None:
    data = by_hand(square(0.04))
    assert isinstance(read_upload(Upload(data, Asked("a.dxf", unit=ASK))), AsksUnit)
    assert read_well(data, unit="m").bounds_mm[2] == pytest.approx(40)


@pytest.mark.parametrize("unit", ["", "parsec", "mm; rm", "9" * 400])
def test_a_unit_that_is_none_is_refused(unit: str) -> None:
    assert turned_down(BARE, "a.dxf", unit).code == "option-bad"


def test_damaged_drawings_are_each_read_or_refused_through_the_door() -> None:
    chance = random.Random(5)
    ends: set[str] = set()
    for number in range(12):
        data = bytearray(FISH.encode() if number % 2 else BARE)
        for _ in range(4):
            data[chance.randrange(len(data))] = chance.randrange(256)
        name = "a.dxf" if number % 2 == 0 else "a.svg"
        match read_upload(Upload(bytes(data), Asked(name, unit=ASK))):
            case Read():
                ends.add("read")
            case unread:
                ends.add(unread.why.code.partition("-")[0])
    assert "reading" not in ends
