"""Picture files that are broken, too large, or something else: an answer in words, every time."""

from __future__ import annotations

import io
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from studio.core.confining import Stopped, confined
from studio.core.reading import PatternError
from studio.core.reading.joining.tidying import tidy
from studio.core.reading.rough import Asked
from studio.core.reading.scan import read_picture
from studio.core.reading.scan.child import read
from studio.core.reading.sources import read_pattern
from studio.core.reading.uploads import Upload, check_size, kind_of

from .pages import file_of, ink, paper, scan

ROOT = Path(__file__).resolve().parents[4]


def small_page() -> np.ndarray:
    page = paper(14.0, 12.0)
    ink(page, [(3.0, 3.0), (11.0, 3.0), (11.0, 9.0), (3.0, 9.0)])
    return scan(page)


def corpus() -> dict[str, bytes]:
    grey = small_page()
    return {
        "png": file_of(grey, "PNG", dpi=(300, 300)),
        "jpeg": file_of(grey, "JPEG", dpi=(300, 300), quality=70),
        "tiff": file_of(grey, "TIFF", dpi=(300, 300)),
        "webp": file_of(grey, "WEBP", quality=70),
    }


def outcome(data: bytes, kind: str) -> str:
    """What a file comes to; any exception but `PatternError` fails the test."""
    try:
        tracing = tidy(read(data, kind, Asked(dpi=300.0)))
    except PatternError as refused:
        return refused.message and refused.mend
    assert all(np.isfinite(line.points).all() for line in tracing.lines)
    return "read"


@pytest.mark.parametrize("kind", ["png", "jpeg", "tiff", "webp"])
def test_one_hundred_and_fifty_mutations_of_each_kind_end_in_a_reading_or_in_words(
    kind: str,
) -> None:
    whole = corpus()[kind]
    chance = np.random.default_rng(len(whole))
    for number in range(150):
        data = bytearray(whole)
        if number % 3 == 0:
            data = data[: int(chance.integers(8, len(data)))]
        for _ in range(int(chance.integers(1, 12))):
            data[int(chance.integers(4, min(len(data), 400 if number % 2 else len(data))))] = int(
                chance.integers(0, 256)
            )
        assert outcome(bytes(data), kind)


def chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png_bomb(width: int, height: int) -> bytes:
    """A PNG whose header promises far more dots than its few bytes of zeros seem to hold."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    body = chunk(b"IDAT", zlib.compress(bytes(20_000_000), 9))
    return b"\x89PNG\r\n\x1a\n" + head + body + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(30_000, 30_000), (2**31 - 1, 2**31 - 1), (200_000, 100)])
def test_a_decompression_bomb_is_refused_before_it_is_unpacked(size: tuple[int, int]) -> None:
    with pytest.raises(PatternError) as caught:
        read_pattern(png_bomb(*size), dpi=300.0)
    assert caught.value.code in ("picture-too-large", "picture-broken")


def test_a_picture_of_a_few_dots_is_refused() -> None:
    with pytest.raises(PatternError) as caught:
        read(file_of(np.zeros((5, 5), np.uint8)), "png", Asked(dpi=300.0))
    assert caught.value.code == "picture-too-small"


def test_a_file_that_is_two_things_at_once_is_read_as_what_it_begins_like() -> None:
    page = corpus()["png"]
    both = page + b"PK\x03\x04<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>"
    assert kind_of(both) == "png"
    assert len(read_pattern(both).lines) == 1
    with pytest.raises(PatternError):
        read_picture(page, "jpeg", Asked(dpi=300.0))


def test_a_page_full_of_print_is_refused_and_not_read_for_minutes() -> None:
    chance = np.random.default_rng(4)
    noise = (chance.random((900, 900)) > 0.5).astype(np.uint8) * 255
    speckled = np.kron(noise[:450, :450], np.ones((4, 4), np.uint8))
    with pytest.raises(PatternError):
        tidy(read(file_of(speckled), "png", Asked(dpi=300.0)))


@pytest.mark.parametrize("value", [0, 90, 128, 255])
def test_a_picture_of_one_colour_has_no_ink(value: int) -> None:
    with pytest.raises(PatternError) as caught:
        read(file_of(np.full((300, 300), value, np.uint8)), "png", Asked(dpi=300.0))
    assert caught.value.code == "no-ink"


def test_colours_transparency_and_sixteen_bits_are_read_as_ink_on_paper() -> None:
    grey = small_page()
    clear = np.dstack((np.zeros((*grey.shape, 3), np.uint8), 255 - grey))
    deep = Image.fromarray(grey.astype(np.uint16) * 257)
    for image in (
        Image.fromarray(grey).convert("RGB"),
        Image.fromarray(grey).convert("P"),
        Image.fromarray(clear),
        deep,
    ):
        kept = io.BytesIO()
        image.save(kept, "PNG")
        assert len(tidy(read(kept.getvalue(), "png", Asked(dpi=300.0))).lines) == 1


def test_files_are_bounded_by_their_kind() -> None:
    check_size(Upload(b"\x89PNG" + bytes(14_000_000)))
    for data in (b"\x89PNG" + bytes(15_000_000), b"<svg" + bytes(5_000_000)):
        with pytest.raises(PatternError) as caught:
            check_size(Upload(data))
        assert caught.value.code == "file-too-large"


def test_reading_a_picture_brings_no_picture_library_into_the_web_process(tmp_path: Path) -> None:
    asked = (
        "import sys; from studio.core.reading import read_pattern\n"
        "data = open(sys.argv[1], 'rb').read()\n"
        "assert len(read_pattern(data).lines) == 1\n"
        "assert not {'cv2', 'PIL'} & set(sys.modules), 'loaded'\n"
    )
    file = tmp_path / "page.png"
    file.write_bytes(corpus()["png"])
    done = subprocess.run(
        [sys.executable, "-c", asked, str(file)], cwd=ROOT, check=False, capture_output=True
    )
    assert done.returncode == 0, done.stderr.decode()


WRONGS = "tests.core.reading.scan.wrongs"


@pytest.mark.skipif(sys.platform == "win32", reason="only the time limit holds on Windows")
def test_work_that_takes_too_much_memory_or_dies_is_stopped_and_we_live_on() -> None:
    for request in (b"memory", b"crash", b"write", b"raise"):
        with pytest.raises(Stopped) as caught:
            confined(WRONGS, request, seconds=60, memory_bytes=400_000_000)
        assert caught.value.why == "died"
    assert confined(WRONGS, b"fine", seconds=60, memory_bytes=400_000_000) == b"fine"


def test_work_that_never_ends_is_stopped() -> None:
    with pytest.raises(Stopped) as caught:
        confined(WRONGS, b"forever", seconds=1, memory_bytes=400_000_000)
    assert caught.value.why == "time"


def test_a_reader_that_dies_becomes_a_refusal_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    def die(*given: object, **options: object) -> bytes:
        raise Stopped("died")

    monkeypatch.setattr("studio.core.reading.scan.confined", die)
    with pytest.raises(PatternError) as caught:
        read_pattern(corpus()["png"])
    assert caught.value.code == "picture-died"
    assert caught.value.mend
