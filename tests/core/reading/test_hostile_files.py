"""Files made to hurt: each gets an answer in words, soon, and never another exception."""

from __future__ import annotations

import gzip
import random

import pytest

from studio.core.checking import check
from studio.core.drawing import Limits, Weight
from studio.core.reading import PatternError, assemble, read_pattern
from studio.core.reading.bounds import MAX_BYTES

from .drawn import NS, codes, inked, svg, trace

FISH = svg(
    "<style>.ink{fill:none;stroke:#000}</style><defs><circle id='eye' r='1.2'/></defs>"
    '<g class="ink" transform="translate(5 2) rotate(4)">'
    '<path id="body" d="M5 20C15 5 35 5 45 18L55 10V30L45 22C35 35 15 35 5 20z"/>'
    '<rect x="20" y="16" width="4" height="8" rx="1"/><path d="M25 15a8 8 0 010 10"/>'
    '<use href="#eye" x="12" y="18"/><polygon points="30,18 34,18 32,24"/></g>'
).encode()


def refusal(data: bytes, **options: float) -> PatternError:
    with pytest.raises(PatternError) as refused:
        read_pattern(data, **options)  # type: ignore[arg-type]
    error = refused.value
    assert error.code
    assert len(error.message) > 10
    assert len(error.mend) > 10
    assert "\n" not in str(error)
    return error


def test_the_fish_itself_is_sound() -> None:
    found = assemble(read_pattern(FISH))
    assert found.findings == ()
    assert " ".join(found.labels.values()) == "outline window surface ring window"


ENTITY = '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
EXTERNAL = '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
DEFAULTED = '<!DOCTYPE svg [<!ATTLIST g d CDATA "' + "x" * 100_000 + '">]>'


@pytest.mark.parametrize(
    ("heading", "body"),
    [(ENTITY, "<text>&b;</text>"), (EXTERNAL, "<text>&x;</text>"), (DEFAULTED, "<g/>" * 9000)],
)
def test_entities_and_declarations_are_refused(heading: str, body: str) -> None:
    assert refusal((heading + svg(body)).encode()).code == "xml-entities"


def test_an_ordinary_doctype_is_no_reason_to_refuse() -> None:
    heading = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">\n'
    )
    assert read_pattern(heading.encode() + FISH).lines == read_pattern(FISH).lines


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_other_encodings_of_unicode_are_read(encoding: str) -> None:
    assert read_pattern(FISH.decode().encode(encoding)).lines == read_pattern(FISH).lines


def test_a_bomb_of_re_used_shapes_is_refused() -> None:
    levels = "".join(
        f'<g id="g{n}">' + f'<use href="#g{n - 1}"/>' * 10 + "</g>" for n in range(1, 12)
    )
    body = f'<g id="g0"><rect width="9" height="9"/></g>{levels}'
    assert refusal(svg(inked(body)).encode()).code in ("too-many-copies", "too-many-elements")


def test_fifty_megabytes_are_refused() -> None:
    assert refusal(b"<svg>" + b" " * 50_000_000).code == "file-large"


def test_a_compressed_bomb_is_refused_and_a_compressed_drawing_read() -> None:
    assert refusal(gzip.compress(b"<svg>" + b" " * 200_000_000, 9)).code == "file-large"
    assert read_pattern(gzip.compress(FISH)).lines == read_pattern(FISH).lines
    assert refusal(gzip.compress(FISH)[:-20]).code == "not-gzip"
    assert refusal(b"\x1f\x8b" + FISH).code == "not-gzip"
    assert len(FISH) < MAX_BYTES


def test_a_million_path_points_are_refused() -> None:
    path = "M0 0" + "l1 1" * 1_000_000
    assert refusal(svg(inked(f'<path d="{path}"/>')).encode()).code == "too-many-points"


def test_a_million_points_of_a_polygon_are_refused() -> None:
    points = "1 1 " * 1_000_000
    assert refusal(svg(inked(f'<polygon points="{points}"/>')).encode()).code == "too-many-points"


def test_curves_that_need_too_many_corners_are_refused() -> None:
    path = "M0 0" + "c900 900-900 900 0 0" * 3_000
    assert refusal(svg(inked(f'<path d="{path}"/>')).encode()).code == "too-detailed"


@pytest.mark.parametrize("end", ["", "z"])
def test_scribbles_that_cross_without_end_are_refused(end: str) -> None:
    dice = random.Random(3)
    steps = " ".join(f"{dice.random() * 99:.2f} {dice.random() * 99:.2f}" for _ in range(9_000))
    rays = " ".join(f"50 50 {dice.random() * 99:.2f} {dice.random() * 99:.2f}" for _ in range(9000))
    for path in (steps, rays):
        data = svg(inked(f'<path d="M{path}{end}"/>')).encode()
        assert refusal(data).code == "too-tangled"


def test_cross_hatching_on_a_piece_is_no_scribble() -> None:
    hatch = "".join(f"M{n} 1V99M1 {n}H99" for n in range(2, 98))
    found = assemble(trace(f'<rect width="100" height="100"/><path d="{hatch}"/>'))
    assert found.findings == ()
    assert len(found.drawing.pieces[0].surface_lines) == 192


def test_findings_are_cut_short_but_say_so() -> None:
    tracing = trace('<path d="x"/>' * 3_000 + '<rect width="9" height="9"/>')
    assert len(tracing.findings) == 100
    assert tracing.findings[-1].code == "more-findings"
    assert tracing.findings[-1].weight is Weight.STOP


def test_too_many_elements_lines_and_loose_lines_are_refused() -> None:
    assert refusal(svg("<g/>" * 30_000).encode()).code == "too-many-elements"
    circles = "".join(
        f'<rect x="{n % 60 * 1.5}" y="{n // 60 * 1.5}" width="1" height="1"/>' for n in range(2_500)
    )
    assert refusal(svg(inked(circles)).encode()).code == "too-many-lines"
    dashes = "".join(f'<path d="M{n % 60} {n // 60}h.5"/>' for n in range(1_500))
    assert refusal(svg(inked(dashes)).encode()).code == "too-many-loose-lines"


def test_ten_thousand_groups_inside_each_other_are_refused() -> None:
    assert refusal(svg("<g>" * 10_000 + "</g>" * 10_000).encode()).code == "too-deep"


def test_re_use_deeper_than_any_drawing_is_refused() -> None:
    chain = "".join(f'<g id="g{n}"><use href="#g{n + 1}"/></g>' for n in range(300))
    body = f'<defs>{chain}<rect id="g300" width="9" height="9"/></defs><use href="#g0"/>'
    assert refusal(svg(inked(body)).encode()).code == "too-deep"


@pytest.mark.parametrize(
    "attribute",
    [
        'd="{}"',
        'points="{}"',
        'transform="{}"',
        'style="{}"',
        'style="fill:{}"',
        'class="{}"',
        'id="{}"',
        'width="{}"',
        'viewBox="{}"',
    ],
)
@pytest.mark.parametrize("filler", ["(", " ", "9", "-", "M", "1 ", ",", "e", ";", "&lt;", "\u00e9"])
def test_a_huge_attribute_is_answered_soon(attribute: str, filler: str) -> None:
    huge = attribute.format(filler * 300_000)
    for tag in ("path", "rect", "polygon"):
        outcome(svg(inked(f'<{tag} {huge}/><rect width="9" height="9"/>')).encode())


@pytest.mark.parametrize(
    "sheet",
    [
        "g " * 50_000 + "{fill:red}",
        "a{" * 20_000,
        "(" * 90_000,
        "rect{fill:" + "(" * 5_000 + ")" * 5_000 + "}",
        ":is(" * 10_000,
        "*{fill:red}" * 8_000,
        "/*" * 40_000,
        "rect~rect~rect{fill:red}",
        "\\" * 90_000,
        "x" * 200_000,
    ],
)
def test_a_hostile_style_sheet_is_answered_soon(sheet: str) -> None:
    outcome(svg(f"<style>{sheet}</style>" + inked('<rect width="9" height="9"/>' * 300)).encode())


@pytest.mark.parametrize(
    "shape",
    [
        '<circle r="NaN"/>',
        '<circle r="1e400"/>',
        '<circle r="-5"/>',
        '<rect width="10" height="-1"/>',
        '<rect width="1O" height="10"/>',
        '<polygon points="0,0 10,0 10"/>',
        '<polygon points="0,0 10,0 ten,10"/>',
        '<path d="M0 0L10 10 1O"/>',
        '<line x1="0" x2="5furlong"/>',
        '<svg width="0" height="9"><rect width="9" height="9"/></svg>',
        '<svg viewBox="0 0 0 0"><rect width="9" height="9"/></svg>',
    ],
)
def test_a_faulty_shape_is_a_stop_and_the_rest_is_read(shape: str) -> None:
    tracing = trace(shape + '<rect x="50" y="50" width="9" height="9"/>')
    assert len(tracing.lines) == 1
    assert [finding.weight for finding in tracing.findings] == [Weight.STOP]
    assert "<" in tracing.findings[0].message, "names the element"


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("", "nothing-drawn"),
        ("<text>only words</text>", "nothing-drawn"),
        ('<path d=""/>', "nothing-drawn"),
        ('<circle r="0"/>', "nothing-drawn"),
        ('<path d="M5 5"/>', "nothing-drawn"),
        ('<path d="M5 5h0v0z"/>', "size-zero"),
        ('<circle cx="5" cy="5" r="1e-5"/>', "size-zero"),
        ('<rect width="3000" height="10"/>', "drawing-huge"),
        ('<circle r="9e8"/>', "drawing-huge"),
        ('<path d="M0 0h9v9z"/><path d="M9e8 0h1v1z"/>', "drawing-huge"),
        ('<rect width="9" height="9" transform="scale(1e8) scale(1e8)"/>', "drawing-huge"),
    ],
)
def test_drawings_of_no_size_or_an_absurd_one_are_refused(body: str, code: str) -> None:
    assert refusal(svg(inked(body)).encode()).code == code


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "file-empty"),
        (b" \n ", "file-empty"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 99, "picture-broken"),
        (b"\xff\xd8\xff\xe0" + b"\0" * 99, "picture-broken"),
        (b"%PDF-1.7 ...", "kind-not-read"),
        (b"PK\x03\x04" + b"\0" * 99, "kind-not-read"),
        (b"RIFF\0\0\0\0WEBPVP8 ", "picture-broken"),
        (b"  0\nSECTION\n  2\nHEADER\n", "dxf-broken"),
        (b"hello, this is my fish", "kind-not-read"),
        (b"\0" * 400, "kind-not-read"),
        (b"<html><body>no</body></html>", "not-svg"),
        (b'<svg xmlns="http://example.org/other"><path d="M0 0h9v9z"/></svg>', "not-xml"),
        (b"<svg", "not-xml"),
        (FISH[: len(FISH) // 2], "not-xml"),
        (b'<?xml version="1.0" encoding="no-such"?><svg/>', "not-xml"),
        (b'<?xml version="1.0" encoding="utf-7"?><svg/>', "not-xml"),
    ],
)
def test_files_of_the_wrong_kind_are_refused(data: bytes, code: str) -> None:
    error = refusal(data)
    assert error.code == code or (code == "not-xml" and error.code in ("not-svg", "nothing-drawn"))


def outcome(data: bytes) -> str:
    """What a file comes to; any exception but `PatternError` fails the test."""
    try:
        tracing = read_pattern(data)
    except PatternError as error:
        return error.code
    found = assemble(tracing)
    assert all(piece.outline.is_valid for piece in found.drawing.pieces)
    check(found.drawing, Limits())
    return "read"


def test_hundreds_of_damaged_files_are_each_read_or_refused() -> None:
    """Deterministic damage: bytes changed, dropped, doubled, swapped; numbers made wild."""
    dice = random.Random(20261125)
    wild = [
        b"NaN",
        b"1e400",
        b"-",
        b"1O",
        b"1e9",
        b"0",
        b"",
        b"99999",
        b"%",
        b"&amp;",
        b"\xff",
        b"-0",
    ]
    seen: set[str] = set()
    for _ in range(400):
        data = bytearray(FISH)
        for _ in range(dice.randint(1, 4)):
            at = dice.randrange(len(data))
            match dice.randrange(5):
                case 0:
                    data[at] = dice.randrange(256)
                case 1:
                    del data[at : at + dice.randint(1, 30)]
                case 2:
                    data[at:at] = data[at : at + dice.randint(1, 60)]
                case 3:
                    data[at:at] = dice.choice(wild)
                case _:
                    digits = [n for n, byte in enumerate(data) if chr(byte).isdigit()]
                    spot = dice.choice(digits)
                    data[spot : spot + 1] = dice.choice(wild)
        seen.add(outcome(bytes(data)))
    assert {"read", "not-xml"} <= seen


def test_hundreds_of_wild_paths_are_each_read_or_refused() -> None:
    dice = random.Random(7)
    words = [
        *"MLHVCSQTAZmlhvcsqtaz",
        "0",
        "1",
        "10",
        "-5",
        ".5",
        "50",
        "99",
        "1e2",
        " ",
        ",",
        "0 0",
    ]
    for _ in range(400):
        path = "M10 10" + " ".join(dice.choice(words) for _ in range(dice.randint(1, 40)))
        outcome(
            svg(inked(f'<path d="{path}"/><rect x="5" y="5" width="80" height="80"/>')).encode()
        )


def test_random_polygons_assemble_into_valid_pieces_or_stops() -> None:
    dice = random.Random(11)
    for _ in range(150):
        shapes = "".join(
            '<polygon points="'
            + " ".join(f"{dice.randint(0, 20) * 5} {dice.randint(0, 20) * 5}" for _ in range(5))
            + '"/>'
            for _ in range(4)
        )
        assert outcome(svg(inked(shapes)).encode()) in ("read", "size-zero")


def test_markup_in_names_comes_back_as_plain_short_text() -> None:
    name = "&lt;script&gt;alert(1)&lt;/script&gt;" * 9
    tracing = trace(f'<path id="{name}" d="M1 x"/><rect width="9" height="9"/>')
    (finding,) = tracing.findings
    assert codes(tracing.findings) == ["syntax"]
    assert len(finding.message) < 300


def test_no_file_reaches_outside_itself() -> None:
    body = (
        '<image href="http://example.org/x.png" width="9" height="9"/>'
        '<style>@import url("http://example.org/x.css");</style>'
        '<use href="http://example.org/x.svg#a"/><rect width="9" height="9"/>'
    )
    assert set(codes(trace(body).findings)) == {"image-unread", "style-unread", "use-missing"}
    processing = f'<?xml-stylesheet href="file:///etc/passwd"?><svg {NS} width="9mm" height="9mm">'
    assert read_pattern((processing + '<rect width="9" height="9"/></svg>').encode()).lines
