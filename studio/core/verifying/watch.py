"""The judge with a memory: asked again after one piece was moved, it looks at that piece alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from studio.core.cutting.job import Blank, Cut, Job, Measures, Offcut, Placement, Stock
from studio.core.verifying.cuts import outlines_of, settle
from studio.core.verifying.fault import Fault
from studio.core.verifying.faults import faults_of, missing
from studio.core.verifying.kept import Kept
from studio.core.verifying.measures import measure_of, rectangle_in, sawn_by_group
from studio.core.verifying.parted.grounds import blanks_on, grounds_of
from studio.core.verifying.parted.tree import parted_of, parting_of
from studio.core.verifying.saw_lines import free_stretches, shared_stretches

Line = tuple[str, tuple[float, float, float, float]]
"""A straight stretch on a stock piece: the metal's id, and x0, y0, x1, y1 in mm."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """All that the judge says of a layout: what is wrong, what is missing, what it comes to.

    `sawn_mm` is the saw line by the job's groups: a cut that frees two pieces is half each one's.
    `cuts` are those that it was asked about, `blanks` what they make for the groups; both empty
    where the job does not part its metal.
    """

    faults: tuple[Fault, ...]
    missing: tuple[Fault, ...]
    measures: Measures
    offcuts: tuple[Offcut, ...]
    sawn_mm: Mapping[str, float]
    cuts: tuple[Cut, ...] = ()
    blanks: tuple[Blank, ...] = ()


@dataclass(frozen=True, slots=True)
class Shown:
    """What of a judgement is drawn: the largest strip left and its metal, and straight stretches
    that two pieces share, or that lie on a clean edge of the metal and need no saw."""

    strip: tuple[str, Polygon] | None
    shared: tuple[Line, ...]
    free: tuple[Line, ...]


class Watch:
    """Judges layouts of one job, one after another, keeping what the last two have in common.

    What is `kept` follows from where pieces lie, where cuts run and from nothing else, so that
    every answer is the very one that `faults`, `missing` and `measure` give. Whoever reckons on
    from an answer may ask it too, right after `judge`.

    Examples
    --------
    >>> from shapely.geometry import box
    >>> from studio.core.cutting import Job, Placement, Stock, Wanted
    >>> job = Job((Stock("S1", box(0, 0, 90, 40)),), (Wanted("a", box(0, 0, 20, 20), count=2),))
    >>> first = Placement("a", 0, "S1", mirror=False, turn_deg=0.0, x_mm=0.0, y_mm=0.0)
    >>> second = Placement("a", 1, "S1", mirror=False, turn_deg=0.0, x_mm=20.2, y_mm=0.0)
    >>> watch = Watch(job)
    >>> [fault.code for fault in watch.judge([first, second]).faults]
    ['too-near-piece']
    >>> moved = Placement("a", 1, "S1", mirror=False, turn_deg=0.0, x_mm=20.3, y_mm=0.0)
    >>> watch.judge([first, moved]).faults
    ()
    >>> round(watch.judge([first]).measures.saw_line_mm, 3), len(watch.judge([first]).missing)
    (40.0, 1)
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self.kept = Kept()

    def judge(self, placements: Sequence[Placement], cuts: Sequence[Cut] = ()) -> Judgement:
        """What is to say of these placements and cuts, whoever made them and however many.

        Lengths in mm, areas in mm², money in the currency of the job's prices. What names
        nothing that the job has is a fault and is not measured. Raises nothing.
        """
        self.kept.next_answer()
        cuts = () if parting_of(self.job) is None else tuple(cuts)
        found = faults_of(self.job, placements, self.kept, cuts)
        lying = measurable(self.job, placements)
        measures, offcuts = measure_of(self.job, lying, self.kept, cuts)
        sawn = sawn_by_group(self.job, lying, self.kept, cuts)
        left = missing(self.job, placements)
        blanks = blanks_on(self.job, placements, cuts, self.kept)
        return Judgement(found, left, measures, offcuts, sawn, cuts, blanks)

    def show(self, placements: Sequence[Placement], judgement: Judgement) -> Shown:
        """Where that is what a judgement of these placements tells; asked right after it.

        The strip lies in the judgement's own offcuts, whoever has grown them since.
        """
        widest: tuple[float, str, Polygon] | None = None
        for offcut in judgement.offcuts:
            found = rectangle_in(offcut.outline, self.kept)
            if found.area_mm2 > (widest[0] if widest else 0.0):
                widest = found.area_mm2, offcut.metal, found.polygon
        laid: dict[str, list[Placement]] = {}
        for placement in measurable(self.job, placements):
            laid.setdefault(placement.metal, []).append(placement)
        shared: list[Line] = []
        free: list[Line] = []
        for name, pieces in laid.items():
            parted = parted_of(self.job, self.job.stock_by_id[name], judgement.cuts, self.kept)
            for ground in grounds_of(self.job, parted, pieces, self.kept):
                both = self._lines(ground.metal, ground.pieces)
                for found_lines, lines in zip((shared, free), both, strict=True):
                    found_lines.extend((name, line) for line in lines)
        return Shown(widest and widest[1:], tuple(shared), tuple(free))

    def _lines(
        self, metal: Stock, own: Sequence[Placement]
    ) -> tuple[list[tuple[float, float, float, float]], list[tuple[float, float, float, float]]]:
        if self.job.hands is not None:
            settled = settle(self.job, self.job.hands, metal, own, self.kept)
            one, other = settled.shared_stretches(), settled.free_stretches()
        else:
            outlines = outlines_of(self.job, own, self.kept)
            one = tuple(shared_stretches(outlines, self.job.kerf_mm))
            other = tuple(free_stretches(outlines, metal.parts)) if metal.clean_edges else ()
        shared, free = (
            [tuple(shapely.get_coordinates(each.line)[[0, -1]].ravel().tolist()) for each in lines]
            for lines in (one, other)
        )
        return shared, free  # type: ignore[return-value]  # four numbers each


def measurable(job: Job, placements: Sequence[Placement]) -> list[Placement]:
    """Those that lie somewhere: on metal of the job, a piece of the job, at numbers."""
    return [
        p
        for p in placements
        if p.piece in job.wanted_by_id and p.metal in job.stock_by_id and p.is_finite
    ]
