"""What is printed at true size measures true: lengths are read back out of the PDF.

Sources: 100 mm is 283.4646 pt (1 pt = 1/72 in, 1 in = 25.4 mm); A4 is 210 × 297 mm by ISO 216;
Letter is 8.5 × 11 in by ASME Y14.1 (size A).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import shapely
from pypdf import PdfReader
from shapely.geometry import Polygon, box

from classroom.models import School
from classroom.papers.printing import paper_context, pdf_bytes
from studio.models import CutPlan, Pattern
from studio.prints.files import write_prints
from studio.prints.paper.sizes import Printer
from studio.prints.patterns import pattern_sheet
from studio.prints.plans import placement_sheet
from tests.studio.bench.making import World

from .reading_pdf import BAR_PT, MM_PER_PT, of_size, open_pdf, page_size_mm, paths_of, straight

pytestmark = pytest.mark.usefixtures("pango")

TAG = box(0, 0, 40, 20)
BROAD = Polygon([(0, 0), (260, 0), (260, 40), (150, 40), (130, 90), (110, 40), (0, 40)])


def sheet(pattern: Pattern, school: School, printer: Printer | None = None) -> PdfReader:
    context = pattern_sheet.pattern_sheet_context(pattern, school=school, printer=printer)
    return open_pdf(pdf_bytes(pattern_sheet.TEMPLATE, paper_context(school) | context))


def placement(plan: CutPlan, school: School, **more: Any) -> PdfReader:
    context = placement_sheet.placement_sheet_context(plan, school=school, **more)
    return open_pdf(pdf_bytes(placement_sheet.TEMPLATE, paper_context(school) | context))


def bars(reader: PdfReader, number: int = 0) -> tuple[list[Any], list[Any]]:
    paths = paths_of(reader.pages[number], reader)
    by = 0.05 * MM_PER_PT
    length = BAR_PT * MM_PER_PT
    return (
        straight(paths, length, upright=False, by=by),
        straight(paths, length, upright=True, by=by),
    )


def test_both_bars_are_one_hundred_millimetres(world: World) -> None:
    project = world.project(world.cast.seat, TAG)
    across, up = bars(sheet(project.patterns.get(), world.cast.school))
    assert len(across) == 1
    assert len(up) == 1


def test_a_piece_of_40_by_20_mm_measures_40_by_20_mm(world: World) -> None:
    project = world.project(world.cast.seat, TAG)
    reader = sheet(project.patterns.get(), world.cast.school)
    assert of_size(paths_of(reader.pages[0], reader), 40.0, 20.0)


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_pages_have_the_size_of_the_schools_paper(
    world: World, paper: str, size: tuple[float, float]
) -> None:
    world.cast.school.paper = paper
    world.cast.school.save()
    project = world.project(world.cast.seat, TAG)
    reader = sheet(project.patterns.get(), world.cast.school)
    assert len(reader.pages) == 1
    assert page_size_mm(reader.pages[0]) == pytest.approx(size, abs=0.02)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_all_art_keeps_half_an_inch_from_the_papers_edge(world: World, paper: str) -> None:
    world.cast.school.paper = paper
    project = world.project(world.cast.seat, BROAD)
    reader = sheet(project.patterns.get(), world.cast.school)
    for page in reader.pages:
        width, height = page_size_mm(page)
        # The clipped drawing runs on beyond its tile; what is seen is the tile's frame.
        up = straight(paths_of(page, reader), 100.0, upright=True)
        across = straight(paths_of(page, reader), 100.0, upright=False)
        for x0, y0, x1, y1 in (path.box for path in (*up, *across)):
            assert x0 >= 12.7 - 1e-6
            assert x1 <= width - 12.7
            assert y0 >= 12.7
            assert y1 <= height - 12.7


def test_a_printer_that_prints_short_is_corrected_in_each_direction(world: World) -> None:
    project = world.project(world.cast.seat, TAG)
    reader = sheet(project.patterns.get(), world.cast.school, Printer(99.0, 100.5))
    paths = paths_of(reader.pages[0], reader)
    assert of_size(paths, 40.0 * 100 / 99.0, 20.0 * 100 / 100.5)
    assert straight(paths, 100 * 100 / 99.0, upright=False)
    assert straight(paths, 100 * 100 / 100.5, upright=True)


def test_a_round_hole_is_as_wide_as_its_drill(world: World) -> None:
    project = world.project(world.cast.seat)  # a ring mark of 2.0 mm
    reader = sheet(project.patterns.get(), world.cast.school)
    holes = of_size(paths_of(reader.pages[0], reader), 2.0, 2.0, by=0.015)
    assert holes
    x0, y0, x1, y1 = holes[0].box
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    radii = [shapely.Point(middle).distance(shapely.Point(point)) for point in holes[0].points]
    assert max(radii) == pytest.approx(1.0, abs=0.01)
    assert min(radii) == pytest.approx(1.0, abs=0.01)


def test_the_tiles_of_a_large_piece_join_to_the_whole_piece(world: World) -> None:
    """Each tile draws the same outline, moved; moved back by the tile's place, all coincide, and
    the tiles' frames together cover it."""
    project = world.project(world.cast.seat, BROAD)
    school = world.cast.school
    context = pattern_sheet.pattern_sheet_context(project.patterns.get(), school=school)
    reader = open_pdf(pdf_bytes(pattern_sheet.TEMPLATE, paper_context(school) | context))
    tiles = [page.tile for page in context["pages"] if page.tile]
    assert [tile.name for tile in tiles] == ["A1", "A2"]
    whole: list[tuple[float, ...]] = []
    covered = shapely.Polygon()
    for number, tile in enumerate(tiles, start=len(reader.pages) - len(tiles)):
        paths = paths_of(reader.pages[number], reader)
        (outline, *_) = of_size(paths, 260.0, 90.0)
        (frame, *_) = of_size(paths, tile.width_mm, tile.height_mm)
        x0, _, _, y1 = frame.box
        back = [(x - x0 + tile.x, y - y1 - tile.y) for x, y in outline.points]
        whole.append(shapely.Polygon(back).bounds)
        covered = covered.union(
            box(tile.x, -tile.y - tile.height_mm, tile.x + tile.width_mm, -tile.y)
        )
    assert whole[0] == pytest.approx(whole[1], abs=0.02)
    assert covered.covers(box(*whole[0]).buffer(-0.01))


def test_register_marks_lie_at_the_same_place_of_the_drawing_on_both_tiles(world: World) -> None:
    project = world.project(world.cast.seat, BROAD)
    school = world.cast.school
    context = pattern_sheet.pattern_sheet_context(project.patterns.get(), school=school)
    reader = open_pdf(pdf_bytes(pattern_sheet.TEMPLATE, paper_context(school) | context))
    tiles = [page.tile for page in context["pages"] if page.tile]
    seen = []
    for number, tile in enumerate(tiles, start=len(reader.pages) - len(tiles)):
        paths = paths_of(reader.pages[number], reader)
        (frame, *_) = of_size(paths, tile.width_mm, tile.height_mm)
        x0, _, _, y1 = frame.box
        crosses = straight(paths, 6.0, upright=False)
        seen.append(
            sorted(
                (round(c.box[0] + 3 - x0 + tile.x, 2), round(y1 - c.box[1] + tile.y, 2))
                for c in crosses
            )
        )
    assert len(seen[0]) >= 2
    assert seen[0] == seen[1]


def test_the_placement_sheet_shows_metal_and_pieces_where_they_lie(world: World) -> None:
    project = world.project(world.cast.seat, TAG)
    plan = world.issued(project, places=[(10.0, 5.0)])
    reader = placement(plan, world.cast.school)
    paths = paths_of(reader.pages[0], reader)
    (metal, *_) = of_size(paths, 120.0, 80.0)
    (piece, *_) = of_size(paths, 40.0, 20.0)
    assert piece.box[0] - metal.box[0] == pytest.approx(10.0, abs=0.01)
    assert piece.box[1] - metal.box[1] == pytest.approx(5.0, abs=0.01)
    across, up = bars(reader)
    assert across
    assert up


def test_prints_are_written_as_files_without_anybody_at_a_screen(
    world: World, tmp_path: Path
) -> None:
    plan = world.issued(world.project(world.cast.seat), world.project(world.cast.classmate_seat))
    files = write_prints(plan, tmp_path / "out")
    assert [file.name for file in files] == [
        f"cut-plan-{plan.pk}.pdf",
        f"placement-sheet-{plan.pk}.pdf",
        "pattern-sheet-wren-t-tag-of-wren-t-1.pdf",
        "pattern-sheet-odd-f-tag-of-odd-f-1.pdf",
    ]
    for file in files:
        assert len(PdfReader(file).pages) >= 1


def test_every_print_is_a_tagged_document_with_a_title_and_a_language(
    world: World, tmp_path: Path
) -> None:
    """PDF/UA-1 (ISO 14289-1): identification in the metadata, a structure tree, a language."""
    plan = world.issued(world.project(world.cast.seat))
    for file in write_prints(plan, tmp_path):
        reader = PdfReader(file)
        root: Any = reader.trailer["/Root"]
        assert root["/MarkInfo"]["/Marked"]
        assert "/StructTreeRoot" in root
        assert root["/Lang"]
        assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()
        assert reader.metadata is not None
        assert reader.metadata.title


def test_the_pattern_sheet_says_whose_it_is_and_what_to_count(world: World) -> None:
    project = world.project(world.cast.seat)
    world.issued(project)
    text = sheet(project.patterns.get(), world.cast.school).pages[0].extract_text()
    for words in ("Wren T", "Key tag", "Tag of Wren T", "Copper", "Ø 2", "30.0 mm × 20.0 mm"):
        assert words in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_long_titles_warnings_and_corrections_never_push_a_drawing_to_another_page(
    world: World, paper: str
) -> None:
    world.cast.school.paper = paper
    project = world.project(world.cast.seat)
    plan = world.issued(project)
    pattern = project.patterns.get()
    pattern.state = Pattern.State.ASIDE
    pattern.project.title = "A title as long as a title can be. " * 2
    pattern.project.brief.title = "A brief whose title goes on. " * 4
    printer = Printer(99.25, 100.45)
    own = pattern_sheet.pattern_sheet_context(pattern, school=world.cast.school, printer=printer)
    plan.state = CutPlan.State.DROPPED
    whole = placement_sheet.placement_sheet_context(plan, school=world.cast.school, printer=printer)
    for template, context in ((pattern_sheet.TEMPLATE, own), (placement_sheet.TEMPLATE, whole)):
        full = paper_context(world.cast.school) | context | {"printer": printer}
        reader = open_pdf(pdf_bytes(template, full))
        assert len(reader.pages) == 1
        assert straight(paths_of(reader.pages[0], reader), 10_000 / 99.25, upright=False)
