"""DXF files made to hurt: each gets an answer in words, soon, and never another exception."""

from __future__ import annotations

import io
import random

import pytest

from studio.core.drawing import Weight
from studio.core.reading import PatternError, assemble, read_pattern
from studio.core.reading.bounds import MAX_BYTES
from studio.core.reading.dxf.groups import MAX_RECORDS

from .dxfs import by_hand, bytes_of, fresh, square


def refusal(data: bytes) -> PatternError:
    with pytest.raises(PatternError) as refused:
        read_pattern(data, filename="bad.dxf")
    assert len(refused.value.message) > 10
    assert len(refused.value.mend) > 10
    return refused.value


def layered_bomb(depth: int = 8, each: int = 10) -> list[object]:
    """Blocks that repeat one another: `each` to the power of `depth` lines from a few KB."""
    blocks: list[object] = []
    for level in range(depth):
        blocks += [0, "BLOCK", 2, f"B{level}", 10, 0, 20, 0]
        for copy in range(each):
            blocks += [0, "INSERT", 2, f"B{level + 1}", 10, copy, 20, level]
        blocks += [0, "ENDBLK"]
    return [*blocks, 0, "BLOCK", 2, f"B{depth}", 10, 0, 20, 0, *square(1), 0, "ENDBLK"]


INSERT = [0, "INSERT", 2, "B0", 10, 0, 20, 0]
ONE_BLOCK = [0, "BLOCK", 2, "B0", 10, 0, 20, 0, *square(1), 0, "ENDBLK"]


def test_blocks_that_multiply_each_other_are_refused() -> None:
    assert refusal(by_hand(INSERT, blocks=layered_bomb())).code == "too-many-copies"


def test_a_grid_of_a_million_copies_is_refused() -> None:
    grid = [*INSERT, 70, 1000, 71, 1000, 44, 1, 45, 1]
    assert refusal(by_hand(grid, blocks=ONE_BLOCK)).code == "too-many-copies"


def test_a_block_that_contains_itself_is_a_stop_and_the_rest_is_read() -> None:
    loop = [0, "BLOCK", 2, "B0", 10, 0, 20, 0, *INSERT, *square(5), 0, "ENDBLK"]
    tracing = read_pattern(by_hand([*INSERT, *square(30)], blocks=loop), filename="loop.dxf")
    assert "block-loop" in {f.code for f in tracing.findings if f.weight is Weight.STOP}
    assert len(tracing.lines) == 2


def test_blocks_in_blocks_without_end_are_refused() -> None:
    assert refusal(by_hand(INSERT, blocks=layered_bomb(150, 1))).code == "too-deep"


def test_a_block_that_is_not_there_is_a_stop() -> None:
    tracing = read_pattern(by_hand([*INSERT, *square()]), filename="a.dxf")
    assert "block-missing" in {f.code for f in tracing.findings}


def test_a_hundred_thousand_entities_are_refused() -> None:
    data = by_hand([0, "POINT", 10, 1, 20, 1] * 100_000)
    assert len(data) < MAX_BYTES
    error = refusal(data)
    assert error.code == "too-many-elements"
    assert f"{MAX_RECORDS:,}" in error.message


def test_thousands_of_lines_from_one_spot_are_refused() -> None:
    star: list[object] = []
    for number in range(2_000):
        star += [0, "LINE", 10, 0, 20, 0, 11, 1 + number % 100, 21, 1 + number // 100]
    assert refusal(by_hand(star)).code == "too-tangled"


def test_a_file_over_the_limit_is_refused() -> None:
    assert refusal(by_hand(square()) + b" " * MAX_BYTES).code == "file-too-large"


@pytest.mark.parametrize("name", ["drawn.dxf", "drawn"])
def test_the_binary_form_is_refused_with_the_way_out(name: str) -> None:
    document, model = fresh()
    model.add_circle((0, 0), 5)
    stream = io.BytesIO()
    document.write(stream, fmt="bin")
    with pytest.raises(PatternError) as refused:
        read_pattern(stream.getvalue(), filename=name)
    assert refused.value.code == "dxf-binary"
    assert "text form" in refused.value.mend


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "1e308", "1e400", "9" * 400, "abc", ""])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_numbers_that_are_none_are_a_stop_and_never_a_crash(number: str, place: int) -> None:
    numbers: list[object] = [1, 2, 3]
    numbers[place] = number
    bad = [0, "CIRCLE", 10, numbers[0], 20, numbers[1], 40, numbers[2]]
    try:
        tracing = read_pattern(by_hand([*square(30), *bad]), filename="a.dxf")
    except PatternError:
        return
    assert any(f.code == "number-bad" for f in tracing.findings) or len(tracing.lines) == 2


@pytest.mark.parametrize(
    "groups",
    [
        [71, 3, 10, 0, 20, 0, 10, 1, 20, 1],
        [71, 99, *[40, 0] * 104, *[10, 0, 20, 0] * 4],
        [71, -1, 40, 0, 10, 0, 20, 0],
        [71, 1, 40, 3, 40, 2, 40, 1, 40, 0, 10, 0, 20, 0, 10, 1, 20, 1],
        [71, 1, 40, 0, 40, 0, 40, 1, 40, 1, 41, 0, 41, 1, 10, 0, 20, 0, 10, 1, 20, 1],
        [71, 3, 11, 0, 21, 0, 11, 0, 21, 0, 11, 0, 21, 0],
    ],
)
def test_a_damaged_spline_is_a_stop(groups: list[object]) -> None:
    tracing = read_pattern(by_hand([*square(), 0, "SPLINE", *groups]), filename="a.dxf")
    assert len(tracing.lines) == 1
    assert [f.code for f in tracing.findings if f.weight is Weight.STOP] == ["spline-bad"]


@pytest.mark.parametrize(
    "data",
    [b"not a drawing at all", b"\x00" * 4000, b"0\nSECTION\n", b"\x89PNG\r\n", b"<svg/>", b"{}"],
)
def test_other_things_named_dxf_are_refused(data: bytes) -> None:
    assert refusal(data).code


def sample() -> bytes:
    document, model = fresh()
    document.layers.add("SAW")
    block = document.blocks.new("B")
    block.add_circle((0, 0), 2)
    block.add_ellipse((5, 0), (2, 1), 0.5)
    model.add_lwpolyline([(0, 0, 0.5), (60, 0, 0), (60, 50, -0.3), (0, 50, 0)], "xyb", close=True)
    model.add_blockref("B", (20, 20), dxfattribs={"xscale": 2, "yscale": -1, "rotation": 30})
    model.add_spline([(30, 30), (40, 40), (50, 30)], dxfattribs={"layer": "SAW"})
    model.add_arc((30, 10), 4, 0, 300)
    model.add_text("Wren")
    return _only_what_is_drawn(bytes_of(document))


def _only_what_is_drawn(data: bytes) -> bytes:
    """Tables, blocks and entities alone, so that a random blow seldom misses them."""
    sections = data.split(b"SECTION\n")
    kept = [each for each in sections if each.split(b"\n")[1:2][0:1]]
    wanted = (b"  2\nHEADER", b"  2\nBLOCKS", b"  2\nENTITIES")
    chosen = [each for each in kept if each.startswith(wanted)]
    return b"  0\nSECTION\n" + b"SECTION\n".join(chosen) + b"EOF\n"


def test_the_sample_itself_is_sound() -> None:
    tracing = read_pattern(sample(), filename="a.dxf")
    assert len(tracing.lines) == 5
    assert {f.code for f in tracing.findings} == {"text-unread"}


def mutated(data: bytes, chance: random.Random) -> bytes:
    match chance.randrange(7):
        case 0:
            return data[: chance.randrange(len(data))]
        case 1:
            at = chance.randrange(len(data))
            return data[:at] + chance.randbytes(chance.randrange(1, 9)) + data[at + 4 :]
        case 2:
            one, two = sorted(chance.randrange(len(data)) for _ in range(2))
            return data[:one] + data[two:]
        case 3:
            one, two = sorted(chance.randrange(len(data)) for _ in range(2))
            return data[:two] + data[one : one + 3000] + data[two:]
    lines = data.split(b"\n")
    for _ in range(chance.randrange(1, 6)):
        strange = (
            b"nan",
            b"1e999",
            b"-1",
            b"0",
            b"70",
            b"100000000",
            b"INSERT",
            b"B",
            b"",
            b"\xff",
        )
        lines[chance.randrange(len(lines))] = chance.choice(strange)
    if chance.random() < 0.3:
        chance.shuffle(lines[: chance.randrange(len(lines))])
    return b"\n".join(lines)


def _try(seed: int, count: int) -> None:
    data = sample()
    chance = random.Random(seed)
    for _ in range(count):
        try:
            assemble(read_pattern(mutated(data, chance), filename="a.dxf"))
        except PatternError:
            continue


def test_500_mutated_files_give_a_tracing_or_a_refusal() -> None:
    _try(1, 500)


@pytest.mark.slow
def test_2000_mutated_files_give_a_tracing_or_a_refusal() -> None:
    _try(2, 2_000)
