"""Practice sheets: every known answer is sound, and as good as it is said to be."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Polygon

from studio.core.areas import united
from studio.core.cutting.formats import job_from_json, job_to_json
from studio.core.placing import ENGINE_VERSION
from studio.core.practice import BY_CODE, SHEETS, Sheet, Standing, known, metal_mm2, standing_of
from studio.core.practice.dissections import FLAGS, NINE, SEVEN, Dissection, least_length_mm
from studio.core.practice.long_runs import LONG_RUNS
from studio.core.practice.sheets import KERF_MM, ROOM_MM
from studio.core.practice.spread import spread
from studio.core.verifying import faults, missing
from tests.core.verifying.dissections import MORON_33, MORON_33_CODE, from_code

DISSECTIONS = {"flags": FLAGS, "seven": SEVEN, "nine": NINE}


def outlines_of(sheet: Sheet) -> list[Polygon]:
    return [wanted.outline for wanted in sheet.job.pieces for _ in range(wanted.count)]


def test_six_sheets_grow_from_few_pieces_to_twelve() -> None:
    assert [sheet.number for sheet in SHEETS] == [1, 2, 3, 4, 5, 6]
    assert [sheet.pieces for sheet in SHEETS] == sorted(sheet.pieces for sheet in SHEETS)
    assert all(4 <= sheet.pieces <= 9 for sheet in SHEETS[:-1])
    assert SHEETS[-1].pieces == 12
    assert [s.source for s in SHEETS].count("dissection") == 3


@pytest.mark.parametrize("code", BY_CODE)
def test_every_known_answer_is_whole_and_without_fault(code: str) -> None:
    sheet = BY_CODE[code]
    job = job_from_json(job_to_json(sheet.job))  # as the command-line seam reads and judges it
    assert job_to_json(job)["version"] == 1.2
    assert faults(job, sheet.answer) == ()
    assert missing(job, sheet.answer) == ()


@pytest.mark.parametrize("code", BY_CODE)
def test_every_stock_piece_fits_on_both_papers(code: str) -> None:
    """A4 leaves 175 mm beside the bars, Letter 167 mm beneath the head; a printer 5 % off too."""
    width, height = BY_CODE[code].size_mm
    assert width <= 165.0
    assert height <= 150.0


@pytest.mark.parametrize(("code", "of"), DISSECTIONS.items())
def test_a_dissection_fills_its_rectangle_without_gap_or_overlap(code: str, of: Dissection) -> None:
    parts = [Polygon(part.corners) for part in of.parts]
    assert sum(part.area for part in parts) == pytest.approx(of.width_mm * of.height_mm)
    whole = united(parts)
    assert whole.bounds == (0.0, 0.0, of.width_mm, of.height_mm)
    assert whole.area == pytest.approx(of.width_mm * of.height_mm)


@pytest.mark.parametrize(
    ("code", "told"), [("flags", "1.5 %"), ("seven", "0.8 %"), ("nine", "0.5 %")]
)
def test_what_no_layout_of_a_dissection_can_be_shorter_by_is_told(code: str, told: str) -> None:
    """By area alone (`least_length_mm`)."""
    sheet = BY_CODE[code]
    length, height = DISSECTIONS[code].metal_mm(KERF_MM, ROOM_MM)
    assert sheet.size_mm[1] == pytest.approx(height)
    assert known(code).measures.strip_length_mm == pytest.approx(length, abs=1e-6)
    shorter = 1 - least_length_mm(outlines_of(sheet), height, KERF_MM) / length
    assert told == f"{100 * shorter:.1f} %"
    assert told in sheet.told


@pytest.mark.parametrize(("code", "of"), DISSECTIONS.items())
def test_without_its_room_a_dissection_could_not_be_shorter(code: str, of: Dissection) -> None:
    length, height = of.metal_mm(KERF_MM)
    least = least_length_mm(outlines_of(BY_CODE[code]), height, KERF_MM)
    assert length - 0.01 < least <= length


@pytest.mark.parametrize(("code", "of"), DISSECTIONS.items())
def test_the_known_answer_of_a_dissection_lies_on_three_edges_of_the_metal(
    code: str, of: Dissection
) -> None:
    """And along each other but for the room: of its sides next to nothing is sawn twice."""
    measures = known(code).measures
    length, height = of.metal_mm(KERF_MM, ROOM_MM)
    rim = 2 * length + height
    assert 0.85 * rim < measures.free_edge_mm <= rim
    assert measures.shared_line_mm > 1.4 * of.width_mm


@pytest.mark.parametrize(("code", "of"), DISSECTIONS.items())
def test_a_dissection_wastes_its_saw_cuts_and_its_room(code: str, of: Dissection) -> None:
    """What is used up: the rectangle, the cut that frees it, and the strip's own four corners,
    which the judge rounds by half the least width of an offcut."""
    measures = known(code).measures
    length, height = of.metal_mm(KERF_MM, ROOM_MM)
    corners = (4.0 - math.pi) * (BY_CODE[code].job.offcut_min_width_mm / 2) ** 2
    used = (length + KERF_MM) * height + corners
    assert measures.consumed_mm2 == pytest.approx(used, abs=0.5)
    # Every part lost half a cut all round: the rest is area by area what the parts were.
    inside = sum(outline.area for outline in outlines_of(BY_CODE[code]))
    assert measures.piece_area_mm2 == pytest.approx(inside)
    cuts = length * (height - ROOM_MM) - inside
    around = sum(Polygon(part.corners).length for part in of.parts)
    lines = (around - 2 * (of.width_mm + of.height_mm)) / 2
    assert cuts == pytest.approx(lines * KERF_MM, rel=0.02)
    assert 1 - inside / (length * height) < 0.032


def test_the_nine_squares_are_those_of_moron() -> None:
    width, height, sizes = MORON_33
    places = dict(zip(MORON_33_CODE, from_code(33, MORON_33_CODE), strict=True))
    assert (NINE.width_mm, NINE.height_mm) == (4.0 * width, 4.0 * height)
    found = {
        round(part.corners[1][0] - part.corners[0][0]) // 4: part.corners[0] for part in NINE.parts
    }
    assert set(found) == set(sizes)
    # the same rectangle, perhaps seen in a mirror: every square is where the code puts it
    assert found == {size: (4.0 * x, 4.0 * y) for size, (x, y) in places.items()}


def test_a_long_runs_figures_are_told_with_seed_rounds_and_engine() -> None:
    for code, run in LONG_RUNS.items():
        sheet = BY_CODE[code]
        assert run.rounds > 0
        assert int(run.engine) <= int(ENGINE_VERSION)
        measures = known(code).measures
        assert measures.largest_rectangle_mm[0] * measures.largest_rectangle_mm[1] > 0.35 * (
            sheet.size_mm[0] * sheet.size_mm[1]
        )


def test_standing_follows_the_metal_that_the_best_layout_costs() -> None:
    sheet = BY_CODE["shoal"]
    least = metal_mm2(known("shoal").measures)
    assert standing_of(sheet, None, begun=False) is Standing.NOT_BEGUN
    assert standing_of(sheet, None, begun=True) is Standing.BEGUN
    assert standing_of(sheet, 1.2 * least, begun=True) is Standing.WHOLE
    assert standing_of(sheet, least, begun=True) is Standing.AS_GOOD
    assert standing_of(sheet, 0.95 * least, begun=True) is Standing.BETTER


@pytest.mark.parametrize("code", BY_CODE)
def test_pieces_are_set_out_apart_and_all_of_them(code: str) -> None:
    sheet = BY_CODE[code]
    pages = spread(sheet.job, 166.0, 200.0, apart_mm=7.0)
    assert sum(len(page) for page in pages) == sheet.pieces
    for page in pages:
        boxes = [one.outline.envelope for one in page]
        for k, one in enumerate(boxes):
            assert all(one.distance(other) > 6.999 for other in boxes[:k])
