"""A file becomes the project's pattern, or nothing is saved at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from classroom.models import History
from classroom.refusals import Refused
from studio.core.reading import Asked, PatternError, Upload
from studio.core.reading.uploads import plain_name
from studio.models import Pattern, Project
from studio.steps.patterns.take_back import take_back
from tests.people import Cast
from tests.studio.patterns.making import (
    BAR,
    DISC,
    LARGE,
    OPEN,
    THIN,
    bring,
    fresh,
    handed_in,
    make_brief,
    make_metal,
    make_project,
    svg,
)

BOMB = (
    b'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    b'<svg xmlns="http://www.w3.org/2000/svg"><text>&b;</text></svg>'
)
OUTSIDE = (
    b'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    b'<svg xmlns="http://www.w3.org/2000/svg"><text>&x;</text></svg>'
)


def stored_files(evidence: Path) -> list[Path]:
    return [path for path in evidence.rglob("*") if path.is_file()]


def test_the_file_becomes_the_first_pattern_with_its_drawing(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project)
    assert pattern.number == 1
    assert pattern.state == Pattern.State.DRAFT
    width, height = pattern.drawing.pieces[0].size_mm
    assert (width, height) == pytest.approx((30.0, 30.0), abs=0.02)
    assert pattern.findings == ()
    assert pattern.may_be_handed_in
    assert fresh(project).stage == Project.Stage.DRAWING


def test_the_original_is_kept_as_it_came_under_a_name_that_nobody_steers(cast: Cast) -> None:
    pattern = bring(make_project(cast), filename="../../etc/My <fish>.svg")
    with pattern.file.open("rb") as kept:
        assert kept.read() == DISC
    assert pattern.file_name == "My <fish>.svg"
    assert "fish" not in pattern.file.name
    assert pattern.file.name.endswith(".svg")


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("C:\\Users\\wren\\fish.svg", "fish.svg"),
        ("/etc/passwd", "passwd"),
        ("..", "pattern"),
        ("", "pattern"),
        ("fish\x00\n.svg", "fish.svg"),
        ("\u202egvs.hsif", "gvs.hsif"),
    ],
)
def test_a_file_name_is_only_text(typed: str, kept: str) -> None:
    assert plain_name(typed) == kept


def test_a_very_long_file_name_keeps_its_ending() -> None:
    name = plain_name("x" * 400 + ".svg")
    assert len(name) == 120
    assert name.endswith(".svg")


def test_a_typed_width_overrides_the_size_in_the_file(cast: Cast) -> None:
    pattern = bring(make_project(cast), BAR, width_mm=20.0)
    width, height = pattern.drawing.pieces[0].size_mm
    assert (width, height) == pytest.approx((20.0, 10.0), abs=0.03)
    assert float(pattern.width_mm or 0) == 20.0


def test_findings_come_all_at_once_with_stops_first(cast: Cast) -> None:
    findings = bring(make_project(cast), THIN).findings
    weights = [str(finding.weight) for finding in findings]
    assert "bridge-thin" in [finding.code for finding in findings]
    assert weights == sorted(weights, reverse=True)  # "stop" before "caution"


def test_a_piece_too_large_for_the_brief_is_a_stop(cast: Cast) -> None:
    pattern = bring(make_project(cast), LARGE)
    assert pattern.stops
    assert not pattern.may_be_handed_in


def test_a_drawing_without_a_piece_is_kept_with_its_stops(cast: Cast) -> None:
    pattern = bring(make_project(cast), OPEN)
    assert not pattern.may_be_handed_in
    assert pattern.stops


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"   ",
        b"\x89PNG\r\n\x1a\n" + b"\0" * 40,
        b"%PDF-1.7",
        b"just words",
        b"<svg",
        BOMB,
        OUTSIDE,
        svg(""),
        b"<html><body>no drawing</body></html>",
    ],
)
def test_nothing_is_half_saved_when_reading_fails(cast: Cast, evidence: Path, data: bytes) -> None:
    project = make_project(cast)
    before = History.objects.count(), len(stored_files(evidence))
    with pytest.raises(PatternError) as caught:
        bring(project, data)
    assert caught.value.mend
    assert Pattern.objects.count() == 0
    assert (History.objects.count(), len(stored_files(evidence))) == before
    assert fresh(project).stage == Project.Stage.DRAWING


def test_a_number_that_is_none_is_a_stop_on_the_picture(cast: Cast) -> None:
    good = '<circle cx="20" cy="20" r="15"/>'
    pattern = bring(make_project(cast), svg(good + '<path d="M0 0H1e400V9"/>'))
    assert pattern.stops
    assert not pattern.may_be_handed_in


@pytest.mark.parametrize("data", [BOMB, OUTSIDE])
def test_entities_are_refused_outright(cast: Cast, data: bytes) -> None:
    with pytest.raises(PatternError):
        bring(make_project(cast), data)


def test_a_file_of_more_than_five_megabytes_is_refused_before_it_is_read_whole(
    cast: Cast,
) -> None:
    class Endless:
        taken = 0

        def read(self, size: int = -1) -> bytes:
            assert 0 < size <= 5_000_001
            self.taken += size
            return b"<" * size

    from studio.steps.patterns.read_in import read_in

    project = make_project(cast)
    endless: Any = Endless()
    with pytest.raises(PatternError) as caught:
        read_in(project, Upload.taken(endless, Asked("big.svg")), acting=cast.owner)
    assert caught.value.code == "file-too-large"
    assert endless.taken <= 5_000_001


def test_evidence_does_not_stay_when_the_row_cannot_be_written(
    cast: Cast, evidence: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    project = make_project(cast)
    before = len(stored_files(evidence))

    def broken(self: Pattern, *args: Any, **kwargs: Any) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(Pattern, "save", broken)
    with pytest.raises(RuntimeError):
        bring(project)
    assert len(stored_files(evidence)) == before
    assert Pattern.objects.count() == 0


def test_sending_the_same_file_twice_makes_one_pattern(cast: Cast) -> None:
    project = make_project(cast)
    assert bring(project).pk == bring(project).pk
    assert Pattern.objects.count() == 1


def test_the_same_file_with_another_width_is_a_new_pattern(cast: Cast) -> None:
    project = make_project(cast)
    bring(project)
    assert bring(project, width_mm=25.0).number == 2


def test_a_new_version_is_current_and_the_old_one_stays_beside_it(cast: Cast) -> None:
    project = make_project(cast)
    first = bring(project)
    second = bring(project, BAR)
    first.refresh_from_db()
    assert first.state == Pattern.State.ASIDE
    assert second.state == Pattern.State.DRAFT
    assert [pattern.number for pattern in project.patterns.all()] == [2, 1]


def test_nothing_is_uploaded_while_the_teacher_looks(cast: Cast) -> None:
    project = make_project(cast)
    pattern = handed_in(project)
    with pytest.raises(Refused, match="Take it back"):
        bring(fresh(project), BAR)
    take_back(pattern, acting=cast.owner)
    assert bring(fresh(project), BAR).number == 2


def test_a_stale_upload_after_handing_in_elsewhere_is_refused_and_leaves_nothing(
    cast: Cast, evidence: Path
) -> None:
    project = make_project(cast)
    stale = fresh(project)
    handed_in(project)
    before = len(stored_files(evidence))
    with pytest.raises(Refused):
        bring(stale, BAR)
    assert len(stored_files(evidence)) == before
    assert Pattern.objects.count() == 1


def test_only_a_metal_of_the_brief_can_be_chosen(cast: Cast) -> None:
    copper, brass = make_metal(cast), make_metal(cast, "C26000", "0.800")
    project = make_project(cast, make_brief(cast, copper))
    with pytest.raises(Refused, match="metal"):
        bring(project, metal=brass)
    bring(project, metal=copper)
    assert fresh(project).metal == copper


def test_a_closed_brief_takes_no_pattern(cast: Cast) -> None:
    project = make_project(cast)
    project.brief.closed_at = timezone.now()
    with pytest.raises(Refused, match="closed"):
        bring(project)
