"""Every version is kept, one is current, and any can be used again until one is handed in."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.urls import reverse

from classroom.models import History, subject_of
from classroom.refusals import Refused
from studio.core.correcting import Diameter
from studio.models import Brief, Pattern, Project
from studio.steps.patterns.answer import approve_pattern, return_pattern
from studio.steps.patterns.correct import correct
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.take_back import take_back
from studio.steps.patterns.versions import current_pattern, use_again
from tests.people import Cast, signed_in
from tests.studio.building.making import DISC as ROUND
from tests.studio.building.making import build, shape

from .making import BAR, DISC, OPEN, RINGED, bring, fresh, make_project, words

pytestmark = pytest.mark.django_db


def again(pattern: Pattern) -> Pattern:
    return Pattern.objects.select_related("project__brief__course", "project__seat").get(
        pk=pattern.pk
    )


def test_a_mended_pattern_comes_back_as_it_was_after_a_wrong_upload(cast: Cast) -> None:
    project = make_project(cast)
    mended = correct(bring(project, RINGED), [Diameter("2", 2.0)], acting=cast.owner)
    wrong = bring(project, BAR)
    back = use_again(again(mended), acting=cast.owner)
    assert (back.pk, back.state) == (mended.pk, Pattern.State.DRAFT)
    assert back.changes == mended.changes
    assert back.drawing.pieces[0].drill_marks[0].diameter_mm == 2.0
    assert again(wrong).state == Pattern.State.ASIDE
    hand_in(back, acting=cast.owner)
    told = History.objects.filter(subject=subject_of(project), verb="pattern-used-again")
    assert [row.text for row in told] == ["took pattern 1 up again"]


def test_using_the_current_version_again_changes_nothing(cast: Cast) -> None:
    pattern = bring(make_project(cast))
    assert use_again(again(pattern), acting=cast.owner).pk == pattern.pk
    assert not History.objects.filter(verb="pattern-used-again").exists()


def test_a_returned_version_comes_back_with_its_remark(cast: Cast) -> None:
    project = make_project(cast)
    first = bring(project)
    hand_in(first, acting=cast.owner)
    return_pattern(first, acting=cast.teacher, remark="Rounder, please.")
    bring(fresh(project), BAR)
    back = use_again(again(first), acting=cast.owner)
    assert (back.state, back.remark) == (Pattern.State.RETURNED, "Rounder, please.")
    assert fresh(project).stage == Project.Stage.RETURNED
    with pytest.raises(Refused, match="handed this pattern back"):
        hand_in(back, acting=cast.owner)
    use_again(again(project.patterns.get(number=2)), acting=cast.owner)
    assert fresh(project).stage == Project.Stage.DRAWING


def test_nothing_is_used_again_once_a_version_is_handed_in(cast: Cast) -> None:
    project = make_project(cast)
    first = bring(project)
    second = bring(project, BAR)
    hand_in(second, acting=cast.owner)
    with pytest.raises(Refused, match="Take it back first"):
        use_again(again(first), acting=cast.owner)
    take_back(again(second), acting=cast.owner)
    assert use_again(again(first), acting=cast.owner).pk == first.pk
    hand_in(again(first), acting=cast.owner)
    approve_pattern(again(first), acting=cast.teacher, place_now=False)
    with pytest.raises(Refused, match="approved already"):
        use_again(again(second), acting=cast.owner)
    assert current_pattern(fresh(project)) == first


def test_a_version_is_measured_by_the_limits_of_today(cast: Cast) -> None:
    project = make_project(cast)
    first = bring(project)
    bring(project, BAR)
    Brief.objects.filter(pk=project.brief_id).update(max_width_mm=20)
    assert [one.code for one in use_again(again(first), acting=cast.owner).stops]


def test_a_file_that_is_kept_already_is_used_again_and_not_kept_twice(
    cast: Cast, evidence: Path
) -> None:
    project = make_project(cast)
    first = bring(project)
    bring(project, BAR)
    assert bring(fresh(project)) == first
    assert current_pattern(project) == first
    assert project.patterns.count() == 2
    correct(again(first), [Diameter("2", 2.0)], acting=cast.owner)
    assert bring(fresh(project)).number == 3  # what was corrected is another drawing by now
    assert len([path for path in evidence.rglob("*") if path.is_file()]) == 3


def test_shapes_that_are_kept_already_are_used_again(cast: Cast) -> None:
    project = make_project(cast)
    first = build(project, ROUND)
    bring(project, BAR)
    shape(project, ROUND)
    assert build(project, ROUND) == first
    assert project.patterns.count() == 2


def test_the_project_page_shows_the_versions_and_brings_one_back(cast: Cast) -> None:
    project = make_project(cast)
    first, second = bring(project, DISC), bring(project, BAR)
    client = signed_in(cast.owner)
    home = reverse("project", args=[project.pk])
    page = words(client.get(home))
    assert page.count('class="version ') + page.count('class="version"') == 2
    again_url = reverse("pattern_use_again", args=[first.pk])
    assert again_url in page
    assert reverse("pattern_use_again", args=[second.pk]) not in page
    assert again_url in words(client.get(reverse("pattern", args=[first.pk])))
    answer = client.post(again_url, follow=True)
    assert "Pattern 1 is the current one again" in words(answer)
    assert 'class="btn btn-primary" type="submit">Hand in' in words(answer)
    assert again_url not in words(signed_in(cast.teacher).get(home))


def test_a_version_without_a_piece_shows_its_lines(cast: Cast) -> None:
    project = make_project(cast)
    bring(project, OPEN)
    bring(project, DISC)
    page = words(signed_in(cast.owner).get(reverse("project_versions", args=[project.pk])))
    assert page.count('class="d-loose"') == 1
    assert "Nothing to saw was recognised" in page
    assert "0.0 mm × 0.0 mm" not in words(
        signed_in(cast.owner).get(reverse("pattern", args=[project.patterns.get(number=1).pk]))
    )


def test_many_versions_are_paged_and_all_are_found(cast: Cast) -> None:
    project = make_project(cast)
    for number in range(14):
        bring(project, DISC, width_mm=20.0 + number)
    client = signed_in(cast.owner)
    assert "See all 14" in words(client.get(reverse("project", args=[project.pk])))
    every = reverse("project_versions", args=[project.pk])
    assert "Page 1 of 2" in words(client.get(every))
    assert ">Pattern 1<" in words(client.get(every, {"page": "2"}))
