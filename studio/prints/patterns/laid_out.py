"""Which paper lies where on the pages of a pattern sheet, at true size.

Papers are set in rows in the pattern's order; one that is larger than a page gets tiles of its
own, after the others. Pure; millimetres.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from django.utils.translation import gettext

from classroom.figures.rounding import told_mm
from classroom.figures.units import Units
from studio.prints.paper.lettering import LETTER_EM, Text
from studio.prints.paper.paths import Frame, num
from studio.prints.paper.sizes import GUTTER_MM, Paper
from studio.prints.paper.tile_art import Bars, TileArt, bars_for, tile_art
from studio.prints.paper.tiling import Tile, tile

from .cutouts import Cutout, turned
from .diameters import arm_of, diameters, reach_of
from .labels import Label, labels_on

GAP_MM = 4.0
CAPTION_WIDTH_MM = 40.0  # what a caption may take under a paper that is narrower
CAPTION_SIZES_MM = (2.9, 2.6)  # letters of the name and of the size
LINE_EM = 1.25


@dataclass(frozen=True, slots=True)
class Art:
    """One paper as path texts, ready for the template."""

    alt: str
    rim: str
    outline: str
    windows: str
    surface: str
    drills: str
    crosses: str
    shared: str
    trims: str
    labels: tuple[Text, ...]
    drill_labels: tuple[Text, ...]
    leaders: str
    caption: tuple[Text, ...] = ()


@dataclass(frozen=True, slots=True)
class Page:
    """One page with its papers, or with one tile of a large paper."""

    width: str
    height: str
    arts: tuple[Art, ...]
    bars: Bars
    tile: Tile | None = None
    tiling: TileArt | None = None
    caption: tuple[str, str] = ("", "")  # of the paper that this is a tile of


@dataclass(slots=True)
class _Box:
    cutout: Cutout
    reach: tuple[float, float, float, float]  # of the paper with the words beside it
    width: float
    height: float  # with the caption
    caption: tuple[tuple[str, float], ...]  # its lines and the size of their letters

    @property
    def caption_mm(self) -> float:
        return _high(self.caption)


def pattern_pages(
    cutouts: Sequence[Cutout],
    paper: Paper,
    words: Sequence[tuple[str, str]],
    units: Units = Units.MM,
) -> list[Page]:
    """All pages. `words` are the two caption lines of each paper, in the same order."""
    boxes: list[_Box] = []
    large: list[tuple[Cutout, tuple[str, str]]] = []
    for cutout, caption in zip(cutouts, words, strict=True):
        fitting = _fitting(cutout, caption, paper, units)
        if fitting is None:
            large.append((cutout, caption))
        else:
            boxes.append(fitting)
    pages = _packed(boxes, paper, units)
    for cutout, caption in large:
        pages += _tiled(cutout, caption, paper, units)
    return pages


def _fitting(cutout: Cutout, caption: tuple[str, str], paper: Paper, units: Units) -> _Box | None:
    """The paper as drawn where it fits on a page, else turned so that it does, else None."""
    area = paper.area(first=False)
    corners = shapely.get_coordinates(cutout.rim.minimum_rotated_rectangle)
    (ax, ay), (bx, by) = corners[0], corners[1]
    slope = math.degrees(math.atan2(by - ay, bx - ax))
    for degrees in (0.0, 90.0, -slope, 90.0 - slope):
        tried = cutout if degrees == 0.0 else turned(cutout, degrees)
        x0, y0, x1, y1 = reach_of(tried, units)
        width = max(x1 - x0, CAPTION_WIDTH_MM)
        lines = _caption_lines(caption, width)
        box = _Box(tried, (x0, y0, x1, y1), width, y1 - y0 + _high(lines), lines)
        if box.width <= area.width_mm and box.height <= area.height_mm:
            return box
    return None


def _caption_lines(caption: tuple[str, str], width: float) -> tuple[tuple[str, float], ...]:
    """The caption in lines that stay under their own paper, so that no two captions meet."""
    return tuple(
        (line, size)
        for words, size in zip(caption, CAPTION_SIZES_MM, strict=True)
        for line in textwrap.wrap(words, max(1, int(width / (LETTER_EM * size))))
    )


def _high(lines: Sequence[tuple[str, float]]) -> float:
    return sum(LINE_EM * size for _, size in lines) + LINE_EM


def _packed(boxes: list[_Box], paper: Paper, units: Units) -> list[Page]:
    """Row after row; a page is full when the next row does not fit. There is always a first."""
    pages: list[Page] = []
    arts: list[Art] = []
    area = paper.area(first=True)
    x = y = row = 0.0
    left = GUTTER_MM / paper.printer.x_scale

    def turn() -> None:
        nonlocal arts, area, x, y, row
        pages.append(_page(arts, paper, first=not pages))
        arts, area = [], paper.area(first=False)
        x = y = row = 0.0

    for item in boxes:
        if x > 0 and x + item.width > area.width_mm:
            x, y, row = 0.0, y + row + GAP_MM, 0.0
        if y + item.height > area.height_mm:
            turn()
        arts.append(_art(item, left + x, y, units))
        x += item.width + GAP_MM
        row = max(row, item.height)
    turn()
    return pages


def _page(arts: Sequence[Art], paper: Paper, *, first: bool) -> Page:
    width, height = paper.canvas_mm(first=first)
    return Page(num(width), num(height), tuple(arts), bars_for(paper, first=first))


def _art(item: _Box, x: float, y: float, units: Units) -> Art:
    x0, _, x1, y1 = item.reach
    frame = Frame(x0, y1, x + (item.width - (x1 - x0)) / 2, y)
    middle = num(x + item.width / 2)
    line_y = y + item.height - item.caption_mm
    lines = []
    for words, size in item.caption:
        line_y += LINE_EM * size
        lines.append(Text(words, middle, num(line_y), num(size)))
    return draw(item.cutout, frame, tuple(lines), units=units)


def draw(
    cutout: Cutout, frame: Frame, caption: tuple[Text, ...] = (), *, units: Units = Units.MM
) -> Art:
    """A paper's paths in the page's millimetres."""
    shown = diameters(cutout, frame, units)
    outlines = [one.outline for one in cutout.pieces]
    return Art(
        alt=_alt(cutout),
        rim=frame.path(cutout.rim),
        outline="".join(frame.path(outline) for outline in outlines),
        windows=frame.windows(*outlines),
        surface=frame.lines(*(line for one in cutout.pieces for line in one.surface)),
        drills="".join(
            frame.round(mark.at, mark.diameter_mm) for mark in cutout.marks if mark.diameter_mm
        ),
        crosses="".join(frame.cross(mark.at, arm_of(mark)) for mark in cutout.marks),
        shared=frame.lines(cutout.shared),
        trims=frame.lines(cutout.trims),
        labels=tuple(_label(one, frame) for one in labels_on(cutout)),
        drill_labels=tuple(one.shown for one in shown if one.shown is not None),
        leaders="".join(one.leader for one in shown),
        caption=caption,
    )


def _label(one: Label, frame: Frame) -> Text:
    x, y = frame.xy(one.at.x, one.at.y)
    return Text(one.text, num(x), num(y + 0.36 * one.size_mm), num(one.size_mm))


def _alt(cutout: Cutout) -> str:
    width, height = cutout.size_mm
    names = ", ".join(one.label or one.piece for one in cutout.pieces)
    words = {
        "name": names if cutout.is_joined else cutout.first.piece,
        "width": told_mm(width, places=1),
        "height": told_mm(height, places=1),
    }
    if cutout.is_joined:
        return gettext("pieces %(name)s on one paper, %(width)s by %(height)s mm") % words
    return gettext("piece %(name)s, %(width)s by %(height)s mm") % words


def _tiled(cutout: Cutout, caption: tuple[str, str], paper: Paper, units: Units) -> list[Page]:
    reach = reach_of(cutout, units)
    width, height = reach[2] - reach[0], reach[3] - reach[1]
    area = paper.area(first=False)
    tiling = tile(width, height, area)
    canvas_width, canvas_height = paper.canvas_mm(first=False)
    return [
        Page(
            num(canvas_width),
            num(canvas_height),
            (_tile_art(cutout, reach, one, paper, units),),
            bars_for(paper, first=False),
            one,
            tile_art(tiling, one, paper),
            caption,
        )
        for one in tiling.tiles
    ]


def _tile_art(
    cutout: Cutout,
    reach: tuple[float, float, float, float],
    one: Tile,
    paper: Paper,
    units: Units,
) -> Art:
    left = GUTTER_MM / paper.printer.x_scale
    return draw(cutout, Frame(reach[0], reach[3], left - one.x, -one.y), units=units)
