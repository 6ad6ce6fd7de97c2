"""What a true-size page shows besides its drawing: 100 mm bars, and the marks that join tiles."""

from __future__ import annotations

from dataclasses import dataclass

from .lettering import Text
from .paths import factor, num
from .sizes import GUTTER_MM, Paper
from .tiling import Tile, Tiling

MAP_MOST_MM = 22.0


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
    joins: bool  # whether a neighbour is printed to which it is joined


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
    return Bars(
        num(GUTTER_MM - 3.0), num(height - 4.0), factor(scale.x_scale), factor(scale.y_scale)
    )


def tile_art(
    tiling: Tiling, one: Tile, paper: Paper, printed: frozenset[str] | None = None
) -> TileArt:
    """A tile's frame, seams, register marks and map. `printed` names the tiles that are (None:
    all)."""
    left = GUTTER_MM / paper.printer.x_scale
    dx, dy = left - one.x, -one.y
    joined = _joined(one, printed)
    seams_x = [
        x for x in tiling.seams_x if _side(one.x, one.width_mm, x, "left", "right") in joined
    ]
    seams_y = [
        y for y in tiling.seams_y if _side(one.y, one.height_mm, y, "above", "below") in joined
    ]
    seams = [
        f"M{num(x + dx)} {num(one.y + dy)}V{num(one.y + one.height_mm + dy)}" for x in seams_x
    ] + [f"M{num(one.x + dx)} {num(y + dy)}H{num(one.x + one.width_mm + dx)}" for y in seams_y]
    marks = [
        f"M{num(x + dx - 3)} {num(y + dy)}h6M{num(x + dx)} {num(y + dy - 3)}v6"
        f"M{num(x + dx - 1.5)} {num(y + dy)}l1.5 -1.5l1.5 1.5l-1.5 1.5Z"
        for x, y in tiling.marks
        if one.holds(x, y) and (_is_at(x, seams_x) or _is_at(y, seams_y))
    ]
    return TileArt(
        name=one.name,
        clip=(num(left), "0", num(one.width_mm), num(one.height_mm)),
        seams="".join(seams),
        marks="".join(marks),
        notes=_neighbour_notes(joined, one, left),
        cells=_map(tiling, one, printed),
        map_width=num(tiling.width_mm * _map_scale(tiling) + 1),
        map_height=num(tiling.height_mm * _map_scale(tiling) + 1),
        count=len(tiling.tiles),
        joins=bool(joined),
    )


def _joined(one: Tile, printed: frozenset[str] | None) -> dict[str, str]:
    """Sides of a tile, and the printed tiles that are joined to it there."""
    return {side: name for side, name in one.neighbours if printed is None or name in printed}


def _side(start: float, length: float, seam: float, before: str, after: str) -> str:
    """At which side of a tile a seam runs; "" where it is none of the tile's own."""
    if not start <= seam <= start + length:
        return ""
    return before if seam < start + length / 2 else after


def _is_at(value: float, seams: list[float]) -> bool:
    return any(abs(value - seam) < 1e-3 for seam in seams)


def _neighbour_notes(joined: dict[str, str], one: Tile, left: float) -> tuple[Text, ...]:
    """The neighbour's name at each seam: where the other sheet is laid."""
    notes = []
    for side, name in joined.items():
        match side:
            case "left":
                x, y = left + 2.5, min(8.0, one.height_mm / 4)
            case "right":
                x, y = left + one.width_mm - 2.5, min(8.0, one.height_mm / 4)
            case "above":
                x, y = left + 10.0, 4.0
            case _:
                x, y = left + 10.0, one.height_mm - 1.4
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
