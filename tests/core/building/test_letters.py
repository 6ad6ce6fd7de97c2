"""Letters from the packaged font: sizes, middles that hang on bridges, and what is refused."""

from __future__ import annotations

from importlib import resources

import pytest

from studio.core.building import RecipeError
from studio.core.building.letters import FONT, letters

from .recipes import built, read, read_back

PLATE = {"kind": "rectangle", "width": 56, "height": 24, "corner": 3}


def test_a_capital_is_as_high_as_told() -> None:
    _, low, _, high = letters("H", 14).bounds
    assert high - low == pytest.approx(14, abs=0.01)


@pytest.mark.parametrize("sign", ["O", "S", "0", "Ω", "l", "C"])
def test_areas_agree_with_the_font_librarys_own_reckoning(sign: str) -> None:
    """fontTools integrates the quadratic curves in closed form (Green's theorem)."""
    from fontTools.pens.areaPen import AreaPen
    from fontTools.ttLib import TTFont

    font = TTFont(str(resources.files(FONT[0]).joinpath(*FONT[1:])))
    glyphs = font.getGlyphSet()
    pen = AreaPen(glyphs)
    glyphs[font.getBestCmap()[ord(sign)]].draw(pen)
    scale = 14 / font["OS/2"].sCapHeight
    shape = letters(sign, 14)
    assert shape.area == pytest.approx(abs(pen.value) * scale**2, abs=0.01 * shape.length)


@pytest.mark.parametrize("sign", ["A", "B", "R", "g", "8", "Ж", "é", "&"])
def test_letters_are_filled_as_a_font_rasteriser_fills_them(sign: str) -> None:
    """FreeType (in Pillow) draws outlines that cross themselves, as this font's do."""
    from PIL import Image, ImageDraw, ImageFont

    size = 800
    font = ImageFont.truetype(str(resources.files(FONT[0]).joinpath(*FONT[1:])), size)
    picture = Image.new("L", (1200, 1400))
    ImageDraw.Draw(picture).text((100, 100), sign, fill=255, font=font)
    inked = sum(level * count for level, count in enumerate(picture.histogram())) / 255
    shape = letters(sign, 14)
    px_per_mm = size / 2000 * 1440 / 14  # the font has 2000 units to its size, 1440 to a capital
    assert shape.area * px_per_mm**2 == pytest.approx(inked, rel=0.005)


def test_letters_of_their_own_are_pieces_with_windows() -> None:
    drawing = read({"kind": "letters", "text": "BOA", "height": 20, "joins": "apart"})
    assert [len(piece.outline.interiors) for piece in drawing.pieces] == [2, 1, 1]


def test_middles_of_letters_that_are_cut_away_hang_on_bridges() -> None:
    text = {"kind": "letters", "text": "ABO80", "height": 12, "role": "window"}
    held, _ = read_back(built(PLATE, {**text, "bridge": 2}))
    fallen, _ = read_back(built(PLATE, {**text, "bridge": 0}))
    assert len(held.pieces) == 1
    assert len(fallen.pieces) == 8  # the plate and the seven middles that fell out


def test_bridges_are_as_wide_as_told() -> None:
    (plate,) = read(
        PLATE, {"kind": "letters", "text": "O", "height": 16, "role": "window", "bridge": 2.4}
    ).pieces
    left, right = sorted(plate.outline.interiors, key=lambda ring: ring.bounds[0])
    assert right.bounds[0] - left.bounds[2] == pytest.approx(2.4, abs=1e-5)


def test_letters_as_lines_on_the_surface_are_not_sawn() -> None:
    (plate,) = read(PLATE, {"kind": "letters", "text": "AB", "height": 12, "role": "line"}).pieces
    assert not plate.outline.interiors
    assert len(plate.surface_lines) == 5  # two outlines, three middles


def test_a_sign_that_the_font_lacks_is_named() -> None:
    with pytest.raises(RecipeError, match="no letter for “漢”"):
        built({"kind": "letters", "text": "A漢"})


@pytest.mark.parametrize("text", ["", " ", "A\x00", "A\nB", "A\u202eB", "x" * 25])
def test_empty_control_and_endless_texts_are_refused(text: str) -> None:
    with pytest.raises(RecipeError):
        built({"kind": "letters", "text": text})
