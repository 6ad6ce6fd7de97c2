"""How a job says that metal is parted, and how a plan writes its cuts and blanks; read strictly."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from shapely import wkt
from shapely.geometry import Polygon

from .job import Blank, Cut, CutWay, Parting, to_wkt
from .strictly import JobError, finite, listed, mapping, number, only

MARGIN_MM: Final[Mapping[CutWay, float]] = {"shear": 1.0, "saw": 2.0}
"""Least distance from a piece to the edge that a cut makes (common practice, no source)."""

STRIP_LEAST_MM: Final[Mapping[CutWay, float]] = {"shear": 15.0, "saw": 5.0}
"""Narrowest part that a cut may leave (common practice, no source): what is narrower, a shear
twists and no hand holds."""

MOST_MM = 100_000.0
MOST_CUTS = 400
FAR_MM = 1e6


def parting_from_json(top: Mapping[str, Any]) -> Parting | None:
    """How the job's metal is parted, with the defaults of its way; None where it is not."""
    way = top.get("parting", "none")
    if way not in ("none", "shear", "saw"):
        raise JobError("parting", 'write "none", "shear" or "saw"')
    bounds = {
        name: None if top.get(name) is None else finite(top[name], name, 0.0, MOST_MM)
        for name in ("cut_longest_mm", "throat_mm")
    }
    said = {name: value for name, value in top.items() if value is not None}
    margin = number(said, "parting_margin_mm", "", MARGIN_MM.get(way, 0.0), 0.0, 100.0)
    least = number(said, "strip_least_mm", "", STRIP_LEAST_MM.get(way, 0.0), 0.0, 1000.0)
    if way == "none":  # the rest says how to part, so it binds nothing
        return None
    if top.get("goal", "plan") == "strip":
        raise JobError("parting", "a strip is not parted: its whole length is one stock piece")
    return Parting(way, margin, least, **bounds)


def parting_to_json(parting: Parting | None) -> dict[str, Any]:
    """The fields of a job that say how its metal is parted; none where it is not."""
    if parting is None:
        return {}
    return {
        "parting": parting.way,
        "parting_margin_mm": parting.margin_mm,
        "strip_least_mm": parting.strip_least_mm,
        "cut_longest_mm": parting.cut_longest_mm,
        "throat_mm": parting.throat_mm,
    }


def cuts_to_json(cuts: Iterable[Cut]) -> list[dict[str, Any]]:
    """Cuts as plans write them."""
    return [
        {"metal": cut.metal, "part": cut.part, "from": list(cut.start), "to": list(cut.end)}
        for cut in cuts
    ]


def cuts_from_json(data: Mapping[str, Any], name: str = "cuts") -> tuple[Cut, ...]:
    """The cuts in the list of that name, whatever they name; empty where there is none.

    Raises JobError for what is no cut at all. Whether the job has the metal, and the metal the
    part, is for the judge to say.
    """
    if data.get(name) is None:
        return ()
    return tuple(
        _cut(entry, f"{name}[{i}]") for i, entry in enumerate(listed(data, name, MOST_CUTS))
    )


def _cut(entry: object, where: str) -> Cut:
    data = mapping(entry, where)
    only(data, where, "metal part from to")
    metal, part = data.get("metal"), data.get("part")
    if not isinstance(metal, str) or len(metal) > 200:
        raise JobError(f"{where}.metal", "an id of the job is wanted")
    if isinstance(part, bool) or not isinstance(part, int) or not 0 <= part <= 2 * MOST_CUTS:
        raise JobError(f"{where}.part", "the number of a part is wanted, from 0")
    return Cut(metal, part, _point(data, "from", where), _point(data, "to", where))


def _point(data: Mapping[str, Any], name: str, where: str) -> tuple[float, float]:
    value = data.get(name)
    if not isinstance(value, list) or len(value) != 2:
        raise JobError(f"{where}.{name}", "a point [x, y] in millimetres is wanted")
    x, y = (finite(each, f"{where}.{name}", -FAR_MM, FAR_MM) for each in value)
    return x, y


def blanks_to_json(blanks: Iterable[Blank]) -> list[dict[str, Any]]:
    """Blanks as plans write them."""
    return [
        {
            "metal": blank.metal,
            "part": blank.part,
            "group": blank.group,
            "outline": to_wkt(blank.outline),
        }
        for blank in blanks
    ]


def blanks_from_json(entries: Iterable[Mapping[str, Any]]) -> tuple[Blank, ...]:
    """The blanks of one of our own stored plans."""
    found = []
    for entry in entries:
        outline = wkt.loads(entry["outline"])
        if not isinstance(outline, Polygon):
            raise TypeError("a blank is one polygon")
        found.append(Blank(entry["metal"], entry["part"], entry["group"], outline))
    return tuple(found)
