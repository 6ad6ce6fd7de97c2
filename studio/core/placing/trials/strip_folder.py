"""A folder of strip jobs and its index: what others published of each strip, or its optimum.

`INDEX.json` is `{"source": "…", "published": "…", "instances": [{"name": "…", "height": mm,
"piece_area": mm², "pieces": count, …}]}`; an instance may also have `published_mean_percent`,
`published_best_percent` and `optimum_percent`, the share of the used strip that pieces fill. The
job itself is `<name>.json` beside it, in the form that `place_pieces` reads.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from shapely.geometry import box

from studio.core.cutting import JobError, job_from_json
from studio.core.cutting.job import Goal, Job

INDEX = "INDEX.json"
MOST_STRIPS = 1000
NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]{0,99}")
NEAR = 1e-6  # relative: the index says of a job what the job says of itself
ENDLESS = 3.0  # a strip's length, in lengths that its pieces would fill without a gap


class FolderError(ValueError):
    """A folder that cannot be used; says in one line what and where."""


@dataclass(frozen=True, slots=True)
class KnownStrip:
    """One strip, long enough for any way to place, and what is known of it in percent."""

    name: str
    job: Job
    piece_area_mm2: float
    height_mm: float
    mean_percent: float | None
    best_percent: float | None
    optimum_percent: float | None

    def just_enough(self, share: float, goal: Goal) -> Job:
        """The same pieces on metal no longer than it takes at that share of the published mean.

        Raises ValueError where no mean is known.
        """
        if self.mean_percent is None:
            raise ValueError(f"of {self.name} no mean was published")
        metal = self.job.metal[0]
        x0, y0, _, y1 = metal.outline.bounds
        length = 100.0 * self.piece_area_mm2 / (share * self.mean_percent * self.height_mm)
        metal = replace(metal, outline=box(x0, y0, x0 + length, y1))
        return replace(self.job, metal=(metal,), goal=goal)

    def density_percent(self, length_mm: float) -> float:
        """How much of the strip is pieces when so much of its length is used."""
        return 100.0 * self.piece_area_mm2 / (self.height_mm * length_mm)


@dataclass(frozen=True, slots=True)
class StripFolder:
    """Every strip in the order of the index, and where strips and figures come from."""

    strips: tuple[KnownStrip, ...]
    source: str
    published: str


def strip_folder(index: object, read: Callable[[str], object]) -> StripFolder:
    """The strips of an index; `read` gives the JSON of a file beside it. Raises FolderError."""
    if not isinstance(index, dict):
        raise FolderError(f"{INDEX}: an object in braces is wanted")
    entries = index.get("instances")
    if not isinstance(entries, list) or not 1 <= len(entries) <= MOST_STRIPS:
        raise FolderError(f"{INDEX}: instances: a list of 1 to {MOST_STRIPS} strips is wanted")
    strips: dict[str, KnownStrip] = {}
    for number, entry in enumerate(entries):
        where = f"{INDEX}: instances[{number}]"
        if not isinstance(entry, dict):
            raise FolderError(f"{where}: an object in braces is wanted")
        name = entry.get("name")
        if not isinstance(name, str) or not NAME.fullmatch(name):
            raise FolderError(f"{where}.name: letters, digits, dots and dashes are wanted")
        if name in strips:
            raise FolderError(f'{where}.name: "{name}" occurs twice')
        strips[name] = _strip(name, entry, where, read(f"{name}.json"))
    return StripFolder(tuple(strips.values()), _text(index, "source"), _text(index, "published"))


def _strip(name: str, entry: dict[str, object], where: str, data: object) -> KnownStrip:
    try:
        job = job_from_json(data)
    except JobError as wrong:
        raise FolderError(f"{name}.json: {wrong}") from None
    if job.goal != "strip":
        raise FolderError(f'{name}.json: goal: "strip" is wanted here')
    if not job.copies:
        raise FolderError(f"{name}.json: pieces: at least one is wanted")
    outline = job.metal[0].outline if len(job.metal) == 1 else None
    if outline is None or abs(outline.area - outline.envelope.area) > NEAR * outline.area:
        raise FolderError(f"{name}.json: metal: one rectangle is wanted")
    x0, y0, _, y1 = outline.bounds
    area = sum(wanted.outline.area * wanted.count for wanted in job.pieces)
    facts = {"height": y1 - y0, "piece_area": area, "pieces": float(job.copies)}
    for field, true in facts.items():
        said = _number(entry, field, where, math.inf)
        if said is None or abs(said - true) > NEAR * true:
            raise FolderError(f"{where}.{field}: {name}.json has {true:.10g}")
    # a strip has no end: simple ways to place need more of it than a search does
    longest = max(max(b[2] - b[0], b[3] - b[1]) for b in (o.outline.bounds for o in job.pieces))
    length = max(ENDLESS * area / (y1 - y0), 2.0 * longest, outline.bounds[2] - x0)
    metal = replace(job.metal[0], outline=box(x0, y0, x0 + length, y1))
    return KnownStrip(
        name,
        replace(job, metal=(metal,)),
        area,
        y1 - y0,
        _number(entry, "published_mean_percent", where, 100.0),
        _number(entry, "published_best_percent", where, 100.0),
        _number(entry, "optimum_percent", where, 100.0),
    )


def _number(entry: dict[str, object], field: str, where: str, most: float) -> float | None:
    """A number above 0, or None where the field is missing."""
    value = entry.get(field)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= most:
        bound = "" if math.isinf(most) else f", at most {most:g},"
        raise FolderError(f"{where}.{field}: a number above 0{bound} is wanted")
    try:
        return float(value)
    except OverflowError:
        raise FolderError(f"{where}.{field}: a number above 0 is wanted") from None


def _text(index: dict[str, object], field: str) -> str:
    """One printable line of the index; empty where there is none."""
    value = index.get(field)
    if not isinstance(value, str):
        return ""
    return " ".join("".join(c if c.isprintable() else " " for c in value[:500]).split())
