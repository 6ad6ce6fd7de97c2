"""The pattern's page: the picture we draw, its findings, its lines and the buttons on it."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from classroom.models import School
from studio.models import Pattern, Project
from studio.steps.patterns.answer import approve_pattern, return_pattern
from tests.people import Cast, signed_in

from .making import BAR, DISC, OPEN, RINGED, THIN, bring, fresh, handed_in, make_project, svg, words


def page(cast: Cast, pattern: Pattern, query: str = "") -> str:
    return words(signed_in(cast.owner).get(reverse("pattern", args=[pattern.pk]) + query))


def test_findings_stand_on_the_picture_and_in_the_list_with_one_number(cast: Cast) -> None:
    pattern = bring(make_project(cast), THIN)
    shown = page(cast, pattern)
    assert 'href="#finding-1"' in shown
    assert 'id="finding-1"' in shown
    assert "Measured 1.00 mm, limit 2.00 mm" in shown
    assert pattern.findings[0].mend in shown


def test_lengths_are_in_the_schools_units(cast: Cast) -> None:
    School.objects.filter(pk=cast.school.pk).update(units="in")
    shown = page(cast, bring(make_project(cast), THIN))
    assert "Measured 0.039 in, limit 0.079 in" in shown  # 1 mm and 2 mm
    assert "<text" in shown
    assert re.search(r"d-scale-words[^>]*>[^<]* in<", shown)


def test_the_scale_bar_is_as_long_as_it_says(cast: Cast) -> None:
    shown = page(cast, bring(make_project(cast), DISC))
    drawn = re.search(r'd-scale" d="[^"]*h([0-9.]+)', shown)
    said = re.search(r"d-scale-words[^>]*>([0-9]+) mm<", shown)
    assert drawn is not None
    assert said is not None
    assert float(drawn.group(1)) == float(said.group(1))


def test_what_was_recognised_is_told_in_numbers(cast: Cast) -> None:
    shown = page(cast, bring(make_project(cast), DISC))
    assert "30.0 mm × 30.0 mm" in shown
    assert "1 × 1.6 mm, for a ring" in shown


def test_a_line_is_chosen_without_any_script(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    shown = page(cast, pattern, "?line=2")
    assert "circle, 3.00 mm across" in shown
    assert 'name="line-2" value="window"' in shown
    assert "data-line-panel hidden" not in shown
    assert "data-line-panel hidden" in page(cast, pattern, "?line=77")


def test_the_table_names_lines_without_any_script(cast: Cast) -> None:
    pattern = bring(make_project(cast), RINGED)
    client = signed_in(cast.owner)
    answer = client.post(
        reverse("pattern_relabel", args=[pattern.pk]),
        {"line-1": "", "line-2": "window"},
        follow=True,
    )
    assert "Checked again" in words(answer)
    assert "named by you" in words(answer)
    pattern.refresh_from_db()
    assert pattern.relabels == {"2": "window"}
    client.post(reverse("pattern_relabel", args=[pattern.pk]), {"undo": "1"})
    pattern.refresh_from_db()
    assert pattern.relabels == {}


@pytest.mark.parametrize("posted", [{"line-99": "window"}, {"line-1": "<b>"}, {"line-": "window"}])
def test_names_that_cannot_be_are_refused_in_words(cast: Cast, posted: dict[str, str]) -> None:
    pattern = bring(make_project(cast), RINGED)
    answer = signed_in(cast.owner).post(reverse("pattern_relabel", args=[pattern.pk]), posted)
    assert answer.status_code == 409
    pattern.refresh_from_db()
    assert pattern.relabels == {}


def test_a_pattern_with_stops_shows_no_button_to_hand_it_in(cast: Cast) -> None:
    project = make_project(cast)
    with_stop = bring(project, THIN)
    hand_in = reverse("pattern_hand_in", args=[with_stop.pk])
    assert hand_in not in page(cast, with_stop)
    answer = signed_in(cast.owner).post(hand_in)
    assert answer.status_code == 409
    assert "Correct its lines here, or change your drawing" in words(answer)


def test_handing_in_and_taking_back_by_button(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project)
    client = signed_in(cast.owner)
    hand_in = reverse("pattern_hand_in", args=[pattern.pk])
    assert hand_in in page(cast, pattern)
    for _ in range(2):  # a double press
        assert client.post(hand_in).status_code == 302
    assert fresh(project).stage == Project.Stage.HANDED_IN
    take_back = reverse("pattern_take_back", args=[pattern.pk])
    assert take_back in page(cast, pattern)
    for _ in range(2):
        assert client.post(take_back).status_code == 302
    assert fresh(project).stage == Project.Stage.DRAWING


def test_a_stale_page_of_a_version_set_aside_says_so(cast: Cast) -> None:
    project = make_project(cast)
    old = bring(project)
    bring(project, BAR)
    came_from = reverse("pattern", args=[old.pk])
    answer = signed_in(cast.owner).post(
        reverse("pattern_hand_in", args=[old.pk]),
        headers={"referer": f"http://testserver{came_from}"},
        follow=True,
    )
    assert "another one is current" in words(answer)
    assert "pattern 2 is the current one" in words(answer)
    assert fresh(project).stage == Project.Stage.DRAWING


def test_older_revisions_stay_with_their_remarks(cast: Cast) -> None:
    project = make_project(cast)
    first = handed_in(project)
    return_pattern(first, acting=cast.teacher, remark="The hole sits too high.")
    assert "The hole sits too high." in page(cast, first)
    bring(fresh(project), BAR)
    assert "The hole sits too high." in page(cast, first)
    hub = words(signed_in(cast.owner).get(reverse("project", args=[project.pk])))
    assert "The hole sits too high." in hub
    assert "Pattern 1" in hub
    assert "Pattern 2" in hub


def test_a_drawing_without_pieces_still_has_a_picture_of_its_lines(cast: Cast) -> None:
    shown = page(cast, bring(make_project(cast), OPEN))
    assert "No piece was recognised" in shown
    assert "d-loose" in shown


def test_metal_and_number_change_on_the_page(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project)
    metal = project.brief.metals.get()
    client = signed_in(cast.owner)
    address = reverse("pattern_metal", args=[pattern.pk])
    assert client.post(address, {"metal": metal.pk, "copies": "4"}).status_code == 302
    pattern.refresh_from_db()
    assert pattern.copies == 4
    many = words(client.post(address, {"metal": metal.pk, "copies": "99"}))
    assert '<a href="#id_copies">' in many
    assert 'value="99"' in many
    assert '<a href="#id_metal">' in words(client.post(address, {"metal": "77", "copies": "1"}))
    pattern.refresh_from_db()
    assert pattern.copies == 4


def test_an_approved_pattern_shows_no_way_to_change_it(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    approve_pattern(pattern, acting=cast.teacher, place_now=False)
    shown = page(cast, pattern)
    assert "Approved by Marit Quay" in shown
    assert reverse("pattern_relabel", args=[pattern.pk]) not in shown
    assert reverse("pattern_upload", args=[pattern.project_id]) not in shown


def test_a_picture_with_very_many_lines_has_its_table_in_pages(cast: Cast) -> None:
    rows = "".join(
        f'<rect x="{2 + 3 * (i % 18)}" y="{2 + 3 * (i // 18)}" width="2" height="2"/>'
        for i in range(150)
    )
    pattern = bring(make_project(cast), svg(rows))
    shown = page(cast, pattern)
    assert shown.count("data-line-row=") == 60
    assert page(cast, pattern, "?lines=3").count("data-line-row=") == 30
    assert shown.count('data-line="') == 150


def test_what_is_found_again_is_said_once_and_no_point_is_lost(cast: Cast) -> None:
    teeth = "M5 30" + "".join(f"L{7 + 4 * i} 10L{9 + 4 * i} 30" for i in range(10)) + "V36H5Z"
    pattern = bring(make_project(cast), svg(f'<path d="{teeth}"/>'))
    shown = page(cast, pattern)
    assert shown.count('class="finding is-') < len(pattern.findings)
    assert shown.count('id="finding-') == len(pattern.findings)
