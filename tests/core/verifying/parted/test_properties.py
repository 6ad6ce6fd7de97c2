"""What holds of parted metal whatever its outline, its cuts and its pieces are."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from studio.core.cutting import Cut, Job, Placement, Stock, Wanted
from studio.core.cutting.job import CutWay
from studio.core.verifying import Watch, blanks_of, faults, measure, missing, parts_of, warm_up
from tests.core.placing.jobs import at, disc, frame, star
from tests.core.verifying.parted.jobs import KERF, parted_job, upright, with_metal
from tests.core.verifying.parted.random_cuts import random_cuts, random_metal, random_pieces

warm_up()  # the answers are the same, and sooner there

SEEDS = st.integers(0, 2**32 - 1)
WAYS = st.sampled_from(["shear", "saw"])
PIECES = (
    Wanted("frame", frame(34, 26, 4), 2, may_mirror=True, group="A"),
    Wanted("dot", disc(7), 2, group="B"),
    Wanted("star", star(14, 6), 2),
)


@settings(max_examples=40, deadline=None)
@given(SEEDS, WAYS, st.integers(1, 9))
def test_the_area_of_parts_and_kerf_is_that_of_the_metal(
    seed: int, way: CutWay, count: int
) -> None:
    """Cuts that go through take with a shear nothing and with a saw a band one kerf wide."""
    chance = np.random.default_rng(seed)
    metal = random_metal(chance)
    job = parted_job(way, *PIECES, metal=metal)
    cuts = random_cuts(job, chance, count)
    parts = parts_of(job, "S1", cuts)
    bands = shapely.union_all([_kerf_of(job, cuts[:k], cut) for k, cut in enumerate(cuts)])
    gone = bands.intersection(metal).area if way == "saw" else 0.0
    assert sum(part.area for part in parts.values()) + gone == pytest.approx(metal.area, abs=1e-3)
    for one, other in combinations(parts.values(), 2):
        assert one.intersection(other).area < 1e-6
    for part in parts.values():
        assert part.is_valid
        assert part.difference(metal).area < 1e-6


def _kerf_of(job: Job, before: tuple[Cut, ...], cut: Cut) -> Polygon:
    """The band of a saw cut through the part that it cuts; none where it does not go through."""
    if parts_of(job, "S1", before) == parts_of(job, "S1", (*before, cut)):
        return Polygon()
    band = LineString([cut.start, cut.end]).buffer(KERF / 2.0, cap_style="flat")
    through = band.intersection(parts_of(job, "S1", before)[cut.part])
    assert isinstance(through, (Polygon, shapely.MultiPolygon))
    return through  # type: ignore[return-value]


@settings(max_examples=12, deadline=None)
@given(SEEDS, WAYS, st.integers(0, 6))
def test_areas_and_lengths_of_measures_are_conserved(seed: int, way: CutWay, count: int) -> None:
    chance = np.random.default_rng(seed)
    job = parted_job(way, *PIECES, metal=random_metal(chance))
    job = replace(job, offcut_min_area_mm2=200.0)
    cuts = random_cuts(job, chance, count)
    laid = random_pieces(job, chance)
    found, offcuts = measure(job, laid, cuts)
    area = job.metal[0].outline.area
    assert found.piece_area_mm2 + found.kept_mm2 + found.scrap_mm2 == pytest.approx(area)
    assert found.consumed_mm2 + found.kept_mm2 == pytest.approx(area)
    assert found.kept_mm2 == pytest.approx(sum(o.outline.area for o in offcuts))
    parts = parts_of(job, "S1", cuts).values()
    for offcut in offcuts:  # each of one part
        assert min(offcut.outline.difference(part).area for part in parts) < 1e-3
    sawn = Watch(job).judge(laid, cuts).sawn_mm
    assert sum(sawn.values()) == pytest.approx(found.saw_line_mm)
    assert (found.cut_line_mm == 0.0) == (way == "saw" or not any_made(job, cuts))


def any_made(job: Job, cuts: tuple[Cut, ...]) -> bool:
    return len(parts_of(job, "S1", cuts)) > 1


@settings(max_examples=20, deadline=None)
@given(SEEDS, WAYS)
def test_turned_metal_turned_cuts_and_turned_pieces_have_the_same_faults(
    seed: int, way: CutWay
) -> None:
    """All turned and shifted together, nothing changes but the numbers' last digits."""
    chance = np.random.default_rng(seed)
    metal = random_metal(chance)
    job = parted_job(way, *PIECES, metal=metal, throat=55.0, longest=130.0)
    cuts, laid = random_cuts(job, chance, 3), random_pieces(job, chance)
    angle = float(chance.uniform(0, 360))

    def moved(point: tuple[float, float]) -> tuple[float, float]:
        (there,) = affinity.translate(
            affinity.rotate(shapely.Point(point), angle, origin=(0, 0)), 31.0, -17.0
        ).coords
        return there[0], there[1]

    turned = affinity.translate(affinity.rotate(metal, angle, origin=(0, 0)), 31.0, -17.0)
    other = parted_job(way, *PIECES, metal=turned, throat=55.0, longest=130.0)
    there = [replace(c, start=moved(c.start), end=moved(c.end)) for c in cuts]
    lie = []
    for p in laid:
        x, y = moved((p.x_mm, p.y_mm))
        lie.append(replace(p, turn_deg=p.turn_deg + angle, x_mm=x, y_mm=y))
    assert _told(faults(job, laid, cuts)) == _told(faults(other, lie, there))


def _told(found: object) -> Counter[tuple[object, ...]]:
    return Counter(
        (f.code, f.piece, f.copy, f.part, f.value_mm and round(f.value_mm, 2))
        for f in found  # type: ignore[attr-defined]
    )


@settings(max_examples=30, deadline=None)
@given(SEEDS, WAYS)
def test_each_blank_is_judged_as_a_stock_piece_of_its_own_would_be(seed: int, way: CutWay) -> None:
    """What has no fault on its part has none on the blank with its cut edges as rough ones of the
    same margin: so the layout of a blank that is cut as planned holds."""
    chance = np.random.default_rng(seed)
    job = parted_job(way, *PIECES, margin=2.0, least=1.0)
    cuts = random_cuts(job, chance, 3)
    laid = [p for p in random_pieces(job, chance) if not faults(job, [p], cuts)]
    for blank in blanks_of(job, laid, cuts):
        own = [p for p in laid if blank.outline.covers(p.lay(job.wanted_by_id[p.piece].outline))]
        rim = job.metal[0].outline.boundary
        rough = blank.outline.boundary.difference(rim.buffer(1e-6))
        lines = [g for g in shapely.get_parts(rough) if g.length > 1e-3]
        alone = Stock("S1", blank.outline, 0.001, rough_edges=shapely.MultiLineString(lines))
        plain = replace(job, metal=(alone,), parting=None)
        for p in own:
            assert faults(plain, [p]) == ()


def moved_at_random(
    job: Job, laid: list[Placement], cuts: list[Cut], chance: np.random.Generator
) -> None:
    """One move of a piece or a cut, in place."""
    pick = chance.random()
    if pick < 0.5 and laid:
        k = int(chance.integers(0, len(laid)))
        x, y = 20.0 * chance.uniform(-1, 1, 2)
        laid[k] = replace(laid[k], x_mm=laid[k].x_mm + x, y_mm=laid[k].y_mm + y)
    elif pick < 0.6 and laid:
        del laid[int(chance.integers(0, len(laid)))]
    elif pick < 0.8 and cuts:
        k = int(chance.integers(0, len(cuts)))
        x, y = 15.0 * chance.uniform(-1, 1, 2)
        (x0, y0), (x1, y1) = cuts[k].start, cuts[k].end
        cuts[k] = replace(cuts[k], start=(x0 + x, y0 + y), end=(x1 + x, y1 + y))
    elif pick < 0.9 and cuts:
        del cuts[int(chance.integers(0, len(cuts)))]
    else:
        cuts += random_cuts(job, chance, 1, str(chance.choice(["S1", "S2"])))


@settings(max_examples=4, deadline=None)
@given(SEEDS, WAYS)
def test_after_every_move_of_pieces_and_cuts_the_answer_is_the_judges_own(
    seed: int, way: CutWay
) -> None:
    chance = np.random.default_rng(seed)
    rough = shapely.MultiLineString([[(0, 0), (0, 120), (50, 120)]])
    job = with_metal(
        replace(parted_job(way, *PIECES, least=5.0, throat=50.0), offcut_min_area_mm2=250.0),
        Stock("S1", box(0, 0, 200, 120), 0.001, rough_edges=rough),
        Stock("S2", random_metal(chance), 0.002, clean_edges=False),
    )
    laid, cuts = random_pieces(job, chance), list(random_cuts(job, chance, 2))
    watch = Watch(job)
    for _ in range(7):
        found = watch.judge(laid, cuts)
        assert found.faults == faults(job, laid, cuts)
        assert found.missing == missing(job, laid)
        assert (found.measures, found.offcuts) == measure(job, laid, cuts)
        assert found.blanks == blanks_of(job, laid, cuts)
        fresh = Watch(job)
        again = fresh.judge(laid, cuts)
        assert again == found
        assert fresh.show(laid, again) == watch.show(laid, found)
        moved_at_random(job, laid, cuts, chance)


def test_the_same_place_on_another_part_is_judged_anew() -> None:
    """A piece that stays while a cut moves past it and its edges are others."""
    job = parted_job(margin=1.0)
    watch = Watch(job)
    laid = [at("a", 0, 60, 0)]
    for x, told in ((100, []), (80.5, ["too-near-cut"]), (59.5, ["too-near-cut"]), (40, [])):
        found = watch.judge(laid, [upright(x)])
        assert [fault.code for fault in found.faults] == told
        assert found.faults == faults(job, laid, [upright(x)])
