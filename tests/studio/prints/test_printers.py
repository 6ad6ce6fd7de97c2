"""A printer is measured once; prints for it are true from then on, read back out of the PDF."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from classroom.models import History, PrinterCheck, School
from classroom.models.append_only import HistoryIsKept
from classroom.papers.printers import Doubtful, measure_printer, printers_of, take_off
from classroom.queries import printer_for
from classroom.refusals import Refused
from studio.views.prints.printer_choice import COOKIE
from tests.at_once import told_at_once
from tests.people import Cast, signed_in
from tests.studio.bench.making import World
from tests.studio.patterns.making import words

from .reading_pdf import of_size, open_pdf, paths_of, straight

SENT = {"name": "Room 12", "across_mm": "99.4", "up_mm": "100,6"}


def measured(cast: Cast, name: str = "Room 12", across: str = "99.4", up: str = "100.6") -> Any:
    return measure_printer(
        cast.school, name, Decimal(across), Decimal(up), acting=cast.teacher, sure=True
    )


def pdf(client: Client, address: str) -> Any:
    joined = "&" if "?" in address else "?"
    return open_pdf(client.get(f"{address}{joined}as=pdf").content)


def bars(reader: Any) -> tuple[int, int]:
    """How many bars of 100/99.4 across and 100/100.6 up the first page has (100 mm by 100 mm)."""
    paths = paths_of(reader.pages[0], reader)
    across, up = 100 * 100 / 99.4, 100 * 100 / 100.6
    return (
        len(straight(paths, across, upright=False, by=0.02)),
        len(straight(paths, up, upright=True, by=0.02)),
    )


def test_a_teacher_measures_a_printer_and_it_is_remembered(cast: Cast) -> None:
    client = signed_in(cast.teacher)
    assert "No printer has been measured" in words(client.get(reverse("printers")))
    page = words(client.post(reverse("printers"), SENT, follow=True))
    check = PrinterCheck.objects.get()
    assert (check.across_mm, check.up_mm) == (Decimal("99.40"), Decimal("100.60"))
    assert check.measured_by == cast.teacher
    assert "99.4 mm across and 100.6 mm up" in page
    assert History.objects.filter(verb="printer-measured", actor=cast.teacher).count() == 1


def test_a_new_measurement_is_a_new_row_and_the_newest_counts(cast: Cast) -> None:
    old = measured(cast)
    new = measured(cast, " room  12 ", "99.9", "100")
    assert list(printers_of(cast.school)) == [new]
    assert printer_for(cast.owner, old.pk) == new
    assert PrinterCheck.objects.count() == 2
    for change in (old.save, old.delete, PrinterCheck.objects.all().delete):
        with pytest.raises(HistoryIsKept):
            change()


def test_a_printer_that_is_gone_is_not_offered_and_its_rows_stay(cast: Cast) -> None:
    check = measured(cast)
    client = signed_in(cast.teacher)
    client.post(reverse("printer_gone", args=[check.pk]))
    assert not printers_of(cast.school).exists()
    assert printer_for(cast.owner, check.pk) is None
    assert PrinterCheck.objects.count() == 2
    assert client.post(reverse("printer_gone", args=[check.pk])).status_code == 404
    assert list(printers_of(cast.school)) == []
    measured(cast)
    assert printers_of(cast.school).count() == 1


def test_another_schools_printer_is_none(cast: Cast) -> None:
    check = measured(cast)
    assert printer_for(cast.outsider, check.pk) is None
    take_off(check, acting=cast.teacher)
    other = School.objects.exclude(pk=cast.school.pk).first()
    assert other is None or not printers_of(other).exists()


@pytest.mark.parametrize("bar", ["94.1", "97.3", "105.5", "80", "0", "-100"])
def test_a_page_printed_to_fit_is_refused_with_how_to_print_at_actual_size(
    cast: Cast, bar: str
) -> None:
    """94.1 and 97.3 of 100 are A4 and Letter shrunk onto each other (ISO 216, ASME Y14.1)."""
    client = signed_in(cast.teacher)
    page = words(client.post(reverse("printers"), {**SENT, "across_mm": bar, "up_mm": bar}))
    assert "“Actual size” or a scale of 100 %" in page
    assert not PrinterCheck.objects.exists()


def test_a_doubtful_measurement_is_kept_only_by_somebody_who_is_sure(cast: Cast) -> None:
    client = signed_in(cast.teacher)
    sent = {**SENT, "across_mm": "97.3"}
    assert "I am sure" in words(client.post(reverse("printers"), sent))
    with pytest.raises(Doubtful):
        measure_printer(
            cast.school, "A", Decimal("97.3"), Decimal(100), acting=cast.teacher, sure=False
        )
    client.post(reverse("printers"), {**sent, "sure": "on"})
    assert PrinterCheck.objects.get().across_mm == Decimal("97.30")


@pytest.mark.parametrize(
    "sent",
    [
        {"name": ""},
        {"name": "   "},
        {"across_mm": ""},
        {"across_mm": "NaN"},
        {"up_mm": "1e2000"},
        {"up_mm": "a hand"},
        {"up_mm": "99.123"},
        {"name": "x" * 41},
    ],
)
def test_nonsense_is_refused_and_nothing_kept(cast: Cast, sent: dict[str, str]) -> None:
    answer = signed_in(cast.teacher).post(reverse("printers"), {**SENT, **sent})
    assert answer.status_code == 200
    assert not PrinterCheck.objects.exists()


def test_a_student_measures_nothing_but_may_choose(cast: Cast) -> None:
    check = measured(cast)
    client = signed_in(cast.owner)
    assert client.post(reverse("printers"), SENT).status_code == 403
    assert client.post(reverse("printer_gone", args=[check.pk])).status_code == 403
    assert "Room 12" in words(client.get(reverse("capture_frame")))


def test_names_are_shown_as_text(cast: Cast) -> None:
    measured(cast, "<b onclick=1>x")
    for address in (reverse("printers"), reverse("capture_frame"), reverse("printer_check")):
        assert "<b onclick" not in signed_in(cast.teacher).get(address).content.decode()


def test_no_more_printers_than_a_school_has(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("classroom.papers.printers.MOST_PRINTERS", 1)
    measured(cast)
    measured(cast, across="99")
    with pytest.raises(Refused, match="Take one off"):
        measured(cast, "Another")


@pytest.mark.usefixtures("pango")
def test_the_check_page_is_uncorrected_for_a_new_printer_and_corrected_for_a_known(
    cast: Cast,
) -> None:
    check = measured(cast)
    client = signed_in(cast.teacher)
    client.cookies[COOKIE] = str(check.pk)
    plain = pdf(client, reverse("printer_check"))
    paths = paths_of(plain.pages[0], plain)
    assert straight(paths, 100.0, upright=False, by=0.02)
    assert straight(paths, 100.0, upright=True, by=0.02)
    assert straight(paths, 101.6, upright=False, by=0.02), "4 in are 101.6 mm"
    assert of_size(paths, 50.0, 50.0)
    assert len(plain.pages) == 1
    own = pdf(client, f"{reverse('printer_check')}?printer={check.pk}")
    assert bars(own) == (1, 1)
    assert len(own.pages) == 1
    assert "Room 12" in own.pages[0].extract_text()


@pytest.mark.usefixtures("pango")
def test_a_chosen_printer_is_remembered_and_every_true_size_print_is_corrected_for_it(
    world: World,
) -> None:
    cast = world.cast
    check = measured(cast)
    project = world.project(cast.seat)
    plan = world.issued(project)
    pattern = reverse("pattern_sheet", args=[project.patterns.get().pk])
    client = signed_in(cast.owner)
    assert bars(pdf(client, pattern)) == (0, 0)
    answer = client.get(f"{pattern}?printer={check.pk}")
    assert "Corrected for Room 12" in words(answer)
    assert answer.cookies[COOKIE]["httponly"]
    for address in (
        pattern,
        reverse("placement_sheet", args=[plan.pk]),
        reverse("capture_frame"),
    ):
        assert bars(pdf(client, address)) == (1, 1), address
    client.get(f"{pattern}?printer=")
    assert bars(pdf(client, pattern)) == (0, 0)


@pytest.mark.usefixtures("pango")
def test_a_piece_on_paper_measures_true_in_each_direction(world: World) -> None:
    """The file is stretched by 100/measured, and the printer shrinks it back."""
    check = measured(world.cast, across="99.4", up="100.6")
    project = world.project(world.cast.seat)
    size = project.patterns.get().drawing.pieces[0].size_mm
    address = reverse("pattern_sheet", args=[project.patterns.get().pk])
    reader = pdf(signed_in(world.cast.owner), f"{address}?printer={check.pk}")
    paths = paths_of(reader.pages[0], reader)
    assert of_size(paths, size[0] * 100 / 99.4, size[1] * 100 / 100.6)


def test_bars_typed_for_this_once_are_stronger_and_not_remembered(cast: Cast) -> None:
    check = measured(cast)
    client = signed_in(cast.owner)
    client.cookies[COOKIE] = str(check.pk)
    page = words(client.get(f"{reverse('capture_frame')}?across=99&up=100"))
    assert "Corrected for Room 12" not in page
    assert re.search(r"scale\(1\.010101 1\.000000\)", page)
    assert "Corrected for Room 12" in words(client.get(reverse("capture_frame")))


@pytest.mark.parametrize("asked", ["0", "-1", "999999", "x", "9" * 40, "१", "1;drop"])
def test_a_printer_that_is_none_changes_nothing(cast: Cast, asked: str) -> None:
    client = signed_in(cast.owner)
    assert client.get(reverse("capture_frame"), {"printer": asked}).status_code == 200
    client.cookies[COOKIE] = asked.encode("ascii", "ignore").decode()
    assert client.get(reverse("capture_frame")).status_code == 200


def test_a_measurement_made_anew_holds_for_a_browser_that_chose_the_old_one(cast: Cast) -> None:
    with time_machine.travel(dt.datetime(2026, 11, 1, 16, tzinfo=dt.UTC), tick=False):
        old = measured(cast)
    client = signed_in(cast.owner)
    client.get(reverse("capture_frame"), {"printer": str(old.pk)})
    measured(cast, across="98.9")
    assert "scale(1.011122" in words(client.get(reverse("capture_frame")))


def test_the_same_measurement_sent_twice_is_one(cast: Cast) -> None:
    first = measured(cast)
    assert measured(cast, "room  12") == first
    with time_machine.travel(first.measured_at + dt.timedelta(minutes=5)):
        assert measured(cast) != first  # measured again, with the same result
    assert History.objects.filter(verb="printer-measured").count() == 2


@pytest.mark.django_db(transaction=True)
def test_a_printer_measured_and_taken_off_by_several_at_once(cast: Cast) -> None:
    assert told_at_once(*[lambda: measured(cast)] * 3) == ["done"] * 3
    check = PrinterCheck.objects.get()
    assert told_at_once(*[lambda: take_off(check, acting=cast.teacher)] * 3) == ["done"] * 3
    assert list(PrinterCheck.objects.values_list("gone", flat=True)) == [True, False]
    assert not printers_of(cast.school).exists()
