"""Which paper lies where on the pages of a pattern sheet, at true size.

Papers are set in rows in the pattern's order; one that is larger than a page gets tiles of its
own, after the others. Pure; millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Point, Polygon

from .cutouts import Cutout
from .paper import GUTTER_MM, Area, Paper
from .paths import Frame, num
from .tiling import Tile, Tiling, tile

GAP_MM = 4.0
CAPTION_MM = 8.5  # two lines under a paper
CAPTION_WIDTH_MM = 40.0
LABEL_MOST_MM = 5.0
LABEL_LEAST_MM = 2.0


@dataclass(frozen=True, slots=True)
class Text:
    """A word in a picture: place on the page and size in mm."""

    text: str
    x: str
    y: str
    size: str
    back: tuple[str, str, str, str] | None = None  # a white ground behind it: x, y, width, height


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
    trims: str
    label: Text | None
    drill_labels: tuple[Text, ...]
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


@dataclass(frozen=True, slots=True)
class Bars:
    """Where the 100 mm bars begin: the corner where both meet in thought, and the correction."""

    x: str
    y: str
    x_scale: str
    y_scale: str


@dataclass(frozen=True, slots=True)
class TileArt:
    """What a tile shows besides the drawing: its frame, seams, register marks and a small map."""

    name: str
    clip: tuple[str, str, str, str]
    seams: str
    marks: str
    notes: tuple[Text, ...]
    cells: tuple[Cell, ...]
    map_width: str
    map_height: str
    count: int


@dataclass(frozen=True, slots=True)
class Cell:
    """One tile on the small map."""

    name: str
    x: str
    y: str
    width: str
    height: str
    text: Text
    here: bool
    printed: bool


def bars_for(paper: Paper, *, first: bool) -> Bars:
    """The bars' corner lies near the lower left of the picture."""
    _, height = paper.canvas_mm(first=first)
    scale = paper.printer
    return Bars(num(GUTTER_MM - 3.0), num(height - 4.0), num(scale.x_scale), num(scale.y_scale))


@dataclass(slots=True)
class _Box:
    cutout: Cutout
    width: float
    height: float  # with the caption


def pattern_pages(
    cutouts: Sequence[Cutout], paper: Paper, words: Sequence[tuple[str, str]]
) -> list[Page]:
    """All pages. `words` are the two caption lines of each paper, in the same order."""
    boxes, large = [], []
    next_area = paper.area(first=False)
    for cutout, caption in zip(cutouts, words, strict=True):
        width, height = _size(cutout)
        box = _Box(cutout, max(width, CAPTION_WIDTH_MM), height + CAPTION_MM)
        fits = box.width <= next_area.width_mm and box.height <= next_area.height_mm
        (boxes if fits else large).append((box, caption))
    pages = _packed(boxes, paper)
    for box, caption in large:
        pages += _tiled(box.cutout, caption, paper)
    return pages


def _packed(boxes: list[tuple[_Box, tuple[str, str]]], paper: Paper) -> list[Page]:
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

    for box, caption in boxes:
        if x > 0 and x + box.width > area.width_mm:
            x, y, row = 0.0, y + row + GAP_MM, 0.0
        if y + box.height > area.height_mm:
            turn()
        arts.append(_art(box, caption, left + x, y))
        x += box.width + GAP_MM
        row = max(row, box.height)
    turn()
    return pages


def _page(arts: Sequence[Art], paper: Paper, *, first: bool) -> Page:
    width, height = paper.canvas_mm(first=first)
    return Page(num(width), num(height), tuple(arts), bars_for(paper, first=first))


def _size(cutout: Cutout) -> tuple[float, float]:
    x0, y0, x1, y1 = cutout.rim.bounds
    return x1 - x0, y1 - y0


def _art(box: _Box, caption: tuple[str, str], x: float, y: float) -> Art:
    x0, _, x1, y1 = box.cutout.rim.bounds
    frame = Frame(x0, y1, x + (box.width - (x1 - x0)) / 2, y)
    middle = num(x + box.width / 2)
    below = y + box.height - CAPTION_MM
    return draw(
        box.cutout,
        frame,
        (
            Text(caption[0], middle, num(below + 3.6), "2.9"),
            Text(caption[1], middle, num(below + 7.0), "2.6"),
        ),
    )


def draw(cutout: Cutout, frame: Frame, caption: tuple[Text, ...] = ()) -> Art:
    """A paper's paths in the page's millimetres."""
    drills = [frame.round(mark.at, mark.diameter_mm) for mark in cutout.marks]
    crosses = [frame.cross(mark.at, max(2.0, 0.8 * mark.diameter_mm)) for mark in cutout.marks]
    width, height = cutout.size_mm
    return Art(
        alt=f"piece {cutout.piece}, {width:.1f} by {height:.1f} mm",
        rim=frame.path(cutout.rim),
        outline=frame.path(cutout.outline),
        windows=frame.windows(cutout.outline),
        surface=frame.lines(*cutout.surface),
        drills="".join(drills),
        crosses="".join(crosses),
        trims=frame.lines(cutout.trims),
        label=_label(cutout, frame),
        drill_labels=tuple(_drill_label(cutout, k, frame) for k in range(len(cutout.marks))),
        caption=caption,
    )


def _label(cutout: Cutout, frame: Frame) -> Text | None:
    """The piece's number in the roomiest place that no drill mark or surface line needs."""
    text = cutout.label or cutout.piece
    taken = [mark.at.buffer(mark.diameter_mm / 2 + 4.0) for mark in cutout.marks]
    taken += [line.buffer(0.4) for line in cutout.surface]
    room = cutout.outline.difference(shapely.union_all(taken)) if taken else cutout.outline
    if room.is_empty:
        return None
    circle = shapely.maximum_inscribed_circle(room, tolerance=0.1)
    size = min(LABEL_MOST_MM, 1.5 * circle.length / max(1.0, 0.62 * len(text)))
    if size < LABEL_LEAST_MM:
        return None
    x, y = frame.xy(*circle.coords[0])
    return Text(text, num(x), num(y + 0.36 * size), num(size))


def _drill_label(cutout: Cutout, index: int, frame: Frame) -> Text:
    """The diameter, on the side of the mark that has more room within the piece."""
    mark = cutout.marks[index]
    x, y = frame.xy(mark.at.x, mark.at.y)
    reach = mark.diameter_mm / 2 + 3.0
    best, side = -1.0, 1.0
    for sign in (1.0, -1.0):
        spot = Point(mark.at.x, mark.at.y - sign * reach)
        others = [m.at.distance(spot) for k, m in enumerate(cutout.marks) if k != index]
        inside = cutout.outline.contains(spot) or Polygon(cutout.outline.exterior).contains(spot)
        room = min([cutout.outline.exterior.distance(spot) if inside else 0.0, *others])
        if room > best:
            best, side = room, sign
    shown = f"{mark.diameter_mm:.2f}".rstrip("0").rstrip(".")
    below = y + reach + 0.8 if side > 0 else y - reach + 0.9
    return Text(f"Ø {shown}", num(x), num(below), "2.2")


def _tiled(cutout: Cutout, caption: tuple[str, str], paper: Paper) -> list[Page]:
    width, height = _size(cutout)
    area = paper.area(first=False)
    tiling = tile(width, height + CAPTION_MM, area)
    return [
        Page(
            *(num(side) for side in paper.canvas_mm(first=False)),
            (_tile_art(cutout, caption, one, paper),),
            bars_for(paper, first=False),
            one,
            tile_art(tiling, one, paper),
        )
        for one in tiling.tiles
    ]


def _tile_art(cutout: Cutout, caption: tuple[str, str], one: Tile, paper: Paper) -> Art:
    x0, _, x1, y1 = cutout.rim.bounds
    left = GUTTER_MM / paper.printer.x_scale
    _, height = _size(cutout)
    middle, below = left - one.x + (x1 - x0) / 2, height - one.y
    lines = (
        Text(caption[0], num(middle), num(below + 3.6), "2.9"),
        Text(caption[1], num(middle), num(below + 7.0), "2.6"),
    )
    return draw(cutout, Frame(x0, y1, left - one.x, -one.y), lines)


MAP_MOST_MM = 22.0


def tile_art(
    tiling: Tiling, one: Tile, paper: Paper, printed: frozenset[str] | None = None
) -> TileArt:
    """A tile's frame, seams, register marks and map. `printed` names the tiles that are (None:
    all)."""
    left = GUTTER_MM / paper.printer.x_scale
    dx, dy = left - one.x, -one.y
    seams = [
        f"M{num(x + dx)} {num(one.y + dy)}V{num(one.y + one.height_mm + dy)}"
        for x in tiling.seams_x
        if one.x <= x <= one.x + one.width_mm
    ] + [
        f"M{num(one.x + dx)} {num(y + dy)}H{num(one.x + one.width_mm + dx)}"
        for y in tiling.seams_y
        if one.y <= y <= one.y + one.height_mm
    ]
    marks = [
        f"M{num(x + dx - 3)} {num(y + dy)}h6M{num(x + dx)} {num(y + dy - 3)}v6"
        f"M{num(x + dx - 1.5)} {num(y + dy)}l1.5 -1.5l1.5 1.5l-1.5 1.5Z"
        for x, y in tiling.marks
        if one.holds(x, y, -1.0)
    ]
    return TileArt(
        name=one.name,
        clip=(num(left), "0", num(one.width_mm), num(one.height_mm)),
        seams="".join(seams),
        marks="".join(marks),
        notes=_neighbour_notes(tiling, one, left),
        cells=_map(tiling, one, printed),
        map_width=num(tiling.width_mm * _map_scale(tiling) + 1),
        map_height=num(tiling.height_mm * _map_scale(tiling) + 1),
        count=len(tiling.tiles),
    )


def _neighbour_notes(tiling: Tiling, one: Tile, left: float) -> tuple[Text, ...]:
    """The neighbour's name at each seam: where the other sheet is laid."""
    notes = []
    for side, name in one.neighbours:
        match side:
            case "left":
                x, y = left + 2.5, one.height_mm / 2
            case "right":
                x, y = left + one.width_mm - 2.5, one.height_mm / 2
            case "above":
                x, y = left + one.width_mm / 2, 4.0
            case _:
                x, y = left + one.width_mm / 2, one.height_mm - 1.4
        notes.append(Text(name, num(x), num(y), "2.6"))
    return tuple(notes)


def _map_scale(tiling: Tiling) -> float:
    return min(MAP_MOST_MM / tiling.width_mm, (MAP_MOST_MM - 12.0) / tiling.height_mm)


def _map(tiling: Tiling, here: Tile, printed: frozenset[str] | None) -> tuple[Cell, ...]:
    """Each tile from seam to seam."""
    scale = _map_scale(tiling)
    xs = (0.0, *tiling.seams_x, tiling.width_mm)
    ys = (0.0, *tiling.seams_y, tiling.height_mm)
    cells = []
    for index, one in enumerate(tiling.tiles):
        row, column = divmod(index, tiling.columns)
        x, y = xs[column] * scale, ys[row] * scale
        width, height = (xs[column + 1] - xs[column]) * scale, (ys[row + 1] - ys[row]) * scale
        size = min(2.6, 0.55 * width, 0.8 * height)
        text = Text(
            one.name, num(x + width / 2 + 0.5), num(y + height / 2 + 0.5 + 0.36 * size), num(size)
        )
        cells.append(
            Cell(
                one.name,
                num(x + 0.5),
                num(y + 0.5),
                num(width),
                num(height),
                text,
                one is here,
                printed is None or one.name in printed,
            )
        )
    return tuple(cells)


def area_of(paper: Paper) -> Area:
    """Room on a page that is not the first."""
    return paper.area(first=False)
