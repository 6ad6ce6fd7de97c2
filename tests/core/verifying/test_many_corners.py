"""Outlines of many corners: judged edge by edge as any other, but not every edge against every."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest
from shapely.geometry import Polygon, box

from studio.core.cutting import Hands, Job, Placement, Stock, Wanted
from studio.core.verifying import cuts, faults, measure, pairs
from studio.core.verifying.pairs import near_pairs_of, pairs_across

Array = npt.NDArray[np.float64]
MOST_LOOKED_AT = 20  # of the pairs of every edge with every other, one in so many


def rough_disc(corners: int, radius: float, *, every: int = 2) -> Polygon:
    """Its rim goes a little in and out, as scanned outlines do."""
    turn = 2.0 * math.pi * np.arange(corners) / corners
    far = radius * (1.0 + 0.001 * (np.arange(corners) % every))
    return Polygon(np.column_stack([far * np.cos(turn), far * np.sin(turn)]))


def beside(outline: Polygon, apart: float, straight: float = 8.0) -> tuple[Job, list[Placement]]:
    """Two copies, and what lies in the corner of the metal beside them."""
    sheet = Stock("S1", box(0, 0, 60, 30), price_per_mm2=0.001)
    hands = Hands(1.0, 0.5, straight)
    job = Job((sheet,), (Wanted("a", outline, 2), Wanted("b", box(0, 0, 9, 9))), hands=hands)
    wide = outline.bounds[2] - outline.bounds[0]
    laid = [Placement("a", k, "S1", False, 0.0, 20.0 + k * (wide + apart), 15.0) for k in (0, 1)]
    return job, [*laid, Placement("b", 0, "S1", False, 0.0, 0.0, 0.0)]


@pytest.mark.parametrize("straight", [0.0, 8.0])
@pytest.mark.parametrize(
    "outline",
    [
        rough_disc(300, 5.0),
        rough_disc(301, 5.0, every=7),
        rough_disc(300, 5.0).symmetric_difference(box(-2, -2, 2, 2)),
    ],
)
def test_nothing_changes_where_only_near_edges_are_looked_at(
    outline: Polygon, straight: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    job, laid = beside(outline, 0.6, straight)
    monkeypatch.setattr(pairs, "FEW_PAIRS", 10**9)
    every = cuts(job, job.metal[0], laid), faults(job, laid), measure(job, laid)
    monkeypatch.setattr(pairs, "FEW_PAIRS", 0)
    monkeypatch.setattr(pairs, "AT_A_TIME", 2_000)
    assert (cuts(job, job.metal[0], laid), faults(job, laid), measure(job, laid)) == every
    assert every[0].middle[0].own_mm > 1.0
    if straight > 0.0:  # else every edge may be a shared line
        assert [one.code for one in every[1]] == ["too-near-piece"]


def test_a_pair_of_fine_outlines_is_looked_at_where_it_runs_near() -> None:
    edges = np.hstack([corners(0.0), np.roll(corners(0.0), -1, axis=0)])
    others = np.hstack([corners(7.0), np.roll(corners(7.0), -1, axis=0)])
    still = np.zeros(len(others))
    most = len(edges) * len(others) / MOST_LOOKED_AT
    assert sum(len(rows) for rows, _ in pairs_across(edges, others, still, still, 1.5)) < most
    assert sum(len(rows) for rows, _ in near_pairs_of(edges, others, 0.5)) < most


def corners(at: float) -> Array:
    rim = np.array(rough_disc(6000, 3.2).exterior.coords)[:-1]
    found: Array = rim + np.array([at, 0.0])
    return found
