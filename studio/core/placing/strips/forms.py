"""A strip job as flat arrays: every piece at each of its turns, and what two of them may do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.polygon import orient

from studio.core.cutting.job import Job, Placement, Stock, Wanted, allowed_turns, turns_apart
from studio.core.placing.separating.flat import grown_form, long_edges, poles_of, shrunk, starts_of
from studio.core.placing.separating.kernels import Floats, Ints
from studio.core.placing.shapes import Shape, edges_left

from .alike import Family, Kin
from .kernels import Strip
from .moves import KEPT
from .pairs import BODY, UNKNOWN, Forms, Numbers, Tables
from .parts import parts_of

TABLE_BYTES = 64_000_000  # of each lane; more forms than MOST_FORMS would need more
CELL_BYTES = 9.0  # of `state`, `loss` and `lists`
MOST_CELLS, LEAST_CELLS = 48, 8
MOST_PAIRS = 2_000_000  # of edges that can cross, listed by each lane
MOST_FORMS = 280


def fits_tables(job: Job) -> bool:
    """Whether a job's strip is one rectangle, and all its pieces have listed turns."""
    if job.goal != "strip" or not job.metal:
        return False
    metal = job.metal[0]
    outline = metal.outline
    if len(metal.parts) != 1 or not shapely.equals(outline, box(*outline.bounds)):
        return False
    listed = [len(_listed(wanted, metal)) for wanted in job.pieces if wanted.count]
    return 0 not in listed and 0 < sum(listed) <= MOST_FORMS


@dataclass(frozen=True)
class Form:
    """A piece at one of its turns, drawn about its own middle."""

    shape: Shape
    turn_deg: float
    mirror: bool
    outline: Polygon
    middle: tuple[float, float]  # where that lies from the origin of the turned drawing
    kin: Kin


class Ground:
    """The strip and all forms of its pieces; turns placements into poses and back."""

    def __init__(self, job: Job, shapes: Sequence[Shape]) -> None:
        self.job = job
        metal = job.metal[0]
        edge = 0.0 if metal.clean_edges else job.edge_gap_mm
        x0, y0, _, y1 = metal.outline.bounds
        self.room = (x0 + edge, y0 + edge, y1 - edge)
        self.list: list[Form] = []
        # by piece and mirroring: every turn as a form of its own, and the number of the one in
        # the list that looks the same
        self.turned: dict[tuple[str, bool], list[tuple[Form, int]]] = {}
        at = [0]
        family = Family()
        for shape in shapes:
            self._add(shape, family)
            at.append(len(self.list))
        solids = [grown_form(form.outline, job.kerf_mm / 2.0) for form in self.list]
        self.parts = parts_of(solids)
        self.forms = _flat(self.list, solids, at)
        self.tables = _tables(self.forms, *family.shared_tables([form.kin for form in self.list]))

    def _add(self, shape: Shape, family: Family) -> None:
        """A shape at all its turns; turns that look alike are listed once."""
        first = len(self.list)
        looks: dict[tuple[int, int], int] = {}
        for form in _forms(shape, self.job.metal[0], family):
            number = looks.setdefault(family.look(form.kin), first + len(looks))
            if number == len(self.list):
                self.list.append(form)
            self.turned.setdefault((shape.wanted.id, form.mirror), []).append((form, number))

    def pose(self, placement: Placement) -> tuple[int, float, float]:
        """Form and shift of a placement, at the listed turn nearest to its own."""
        form, number = min(
            self.turned[placement.piece, placement.mirror],
            key=lambda pair: turns_apart(pair[0].turn_deg, placement.turn_deg),
        )
        return number, placement.x_mm + form.middle[0], placement.y_mm + form.middle[1]

    def placement(self, form: int, copy: int, x: float, y: float) -> Placement:
        own = self.list[form]
        return Placement(
            own.shape.wanted.id,
            copy,
            self.job.metal[0].id,
            own.mirror,
            own.turn_deg,
            round(x - own.middle[0], 6),
            round(y - own.middle[1], 6),
        )

    def strip(self, form: Ints, pose: Floats) -> Strip:
        """A search that begins, and is best so far, with the pieces as given."""
        n = len(form)
        near = np.zeros((n + 7) // 8 * 8, dtype=np.uint8)
        right = float((pose[:, 0] + self.forms.extent[form, BODY + 2]).max())
        return Strip(
            pose=pose.copy(),
            form=form.copy(),
            box=np.zeros((4, n)),
            loss=np.zeros((n, n)),
            rim_loss=np.zeros(n),
            weight=np.ones((n, n)),
            rim_weight=np.ones(n),
            bounds=np.array([right, right, 0.02 * (right - self.room[0]), *self.room]),
            tally=np.zeros(3, dtype=np.int64),
            best_pose=pose.copy(),
            best_form=form.copy(),
            order=np.zeros(n, dtype=np.int64),
            near=near,
            eights=near.view(np.uint64),
            kept=np.zeros((KEPT, 2)),
            kept_form=np.zeros(KEPT, dtype=np.int64),
            value=np.zeros(KEPT),
            spot=np.zeros(2),
        )


def _listed(wanted: Wanted, metal: Stock) -> list[tuple[bool, float]]:
    """Mirroring and turn of each form that a piece may have; empty where any turn is allowed."""
    found: list[tuple[bool, float]] = []
    for mirror in (False, True) if wanted.may_mirror else (False,):
        found.extend((mirror, turn) for turn in allowed_turns(wanted, metal, mirror=mirror) or ())
    return list(dict.fromkeys(found))


def _forms(shape: Shape, metal: Stock, family: Family) -> list[Form]:
    found: list[Form] = []
    listed = _listed(shape.wanted, metal)
    for mirror in (False, True):
        turns = [turn for mirrored, turn in listed if mirrored == mirror]
        plain = shape.plain
        if mirror:
            plain = affinity.scale(plain, xfact=-1.0, yfact=1.0, origin=(0.0, 0.0))
        outlines, middles = [], []
        for turn in turns:
            turned = orient(affinity.rotate(plain, turn, origin=(0.0, 0.0)))
            x, y = shapely.get_coordinates(turned.exterior)[:-1].mean(axis=0).tolist()
            outlines.append(affinity.translate(turned, -x, -y))
            middles.append((x, y))
        kins = family.join(turns, outlines)
        for turn, outline, middle, kin in zip(turns, outlines, middles, kins, strict=True):
            found.append(Form(shape, turn, mirror, outline, middle, kin))
    return found


def _flat(forms: Sequence[Form], solids: Sequence[Polygon], at: list[int]) -> Forms:
    inner = [shrunk(solid) for solid in solids]
    poles = [poles_of(outline) for outline in inner]
    long = [_edges(solid) for solid in solids]
    solid, moving = [edges_left(s) for s in solids], [edges_left(s) for s in inner]
    shape = np.repeat(np.arange(len(at) - 1, dtype=np.int64), np.diff(at))
    spans = [starts_of(rows) for rows in (moving, solid, poles, long)]
    ends = [column for span in spans for column in (span[:-1], span[1:])]
    body = np.array([shrunk(form.outline).bounds for form in forms])
    sizes = [(math.sqrt(s.convex_hull.area), math.sqrt(s.area)) for s in solids]
    return Forms(
        form=np.column_stack([shape, *ends]),
        extent=np.column_stack([np.array([s.bounds for s in solids]), body, np.array(sizes)]),
        at=np.array(at, dtype=np.int64),
        moving=np.vstack(moving),
        solid=np.vstack(solid),
        poles=np.ascontiguousarray(np.vstack(poles).T),
        long=np.vstack(long),
    )


def _edges(solid: Polygon) -> Floats:
    """Long edges with their headings, 0 to 2π, so that π apart means one against the other."""
    edges = long_edges(solid)
    heading = np.arctan2(edges[:, 3] - edges[:, 1], edges[:, 2] - edges[:, 0])
    heading = np.where(heading < -1e-9, heading + 2.0 * np.pi, np.maximum(heading, 0.0))
    found: Floats = np.column_stack([edges, heading])
    return found


def _tables(forms: Forms, number: Numbers, twist: Floats, own: Ints) -> Tables:
    a_box, b_box = forms.extent[own[:, 0]], forms.extent[own[:, 1]]
    least = b_box[:, :2] - a_box[:, 2:4]
    most = b_box[:, 2:4] - a_box[:, :2]
    count = int(math.sqrt(TABLE_BYTES / (CELL_BYTES * len(own))))
    count = max(LEAST_CELLS, min(MOST_CELLS, count))
    return Tables(
        number=number,
        twist=twist,
        forms=own,
        origin=np.column_stack([least, count / (most - least)]),
        state=np.full((len(own), count, count), UNKNOWN, dtype=np.uint8),
        loss=np.full((len(own), count + 1, count + 1), np.nan, dtype=np.float32),
        lists=np.zeros((len(own), count, count), dtype=np.int32),
        pairs=np.zeros((MOST_PAIRS, 2), dtype=np.uint16),
        filled=np.zeros(1, dtype=np.int32),
    )


def blank(tables: Tables) -> Tables:
    """The same tables with nothing known yet."""
    return tables._replace(
        state=np.full_like(tables.state, UNKNOWN),
        loss=np.full_like(tables.loss, np.nan),
        lists=np.zeros_like(tables.lists),
        pairs=np.zeros_like(tables.pairs),
        filled=np.zeros_like(tables.filled),
    )
