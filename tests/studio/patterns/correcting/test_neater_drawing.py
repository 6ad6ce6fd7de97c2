"""A neater drawing: offered on the page, done by one tap, undone, and seen by the teacher."""

from __future__ import annotations

import re

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from classroom.models import History
from classroom.papers.turns import Turns
from classroom.refusals import Refused
from studio.core.mending import mends
from studio.models import Pattern, Project
from studio.steps.patterns import mend as mend_step
from studio.steps.patterns.answer import return_pattern
from studio.steps.patterns.correct import undo
from studio.steps.patterns.hand_in import hand_in
from tests.core.mending.paper import hand_drawn, ruler_drawn
from tests.people import Cast, signed_in
from tests.studio.patterns.making import DISC, bring, make_project, words


@pytest.fixture(autouse=True)
def _nothing_kept() -> None:
    cache.clear()


@pytest.fixture
def drawn(cast: Cast) -> Pattern:
    return bring(make_project(cast), hand_drawn(), filename="tag.png", dpi=300)


def page(client: Client, pattern: Pattern, query: str = "") -> str:
    return words(client.get(reverse("pattern", args=[pattern.pk]) + query))


def post(client: Client, pattern: Pattern, **data: str) -> str:
    address = reverse("pattern_mend", args=[pattern.pk])
    return words(client.post(address, data, follow=True))


def test_the_page_offers_what_is_nearly_right_with_pictures(cast: Cast, drawn: Pattern) -> None:
    shown = page(signed_in(cast.owner), drawn)
    assert "A neater drawing" in shown
    assert "Straighten the 4 sides" in shown
    assert "Make it a circle" in shown
    assert re.search(r"moves the line 0\.\d\d mm at most", shown)
    assert shown.count('class="m-after"') == 2 * len(mend_step.offered(drawn))
    assert 'style="' not in shown


def test_a_mend_is_done_by_one_tap_and_undone_by_another(cast: Cast, drawn: Pattern) -> None:
    client = signed_in(cast.owner)
    before = drawn.drawing_json
    circle = next(mend for mend in mend_step.offered(drawn) if mend.code == "circle")
    shown = post(client, drawn, mend=circle.key)
    drawn.refresh_from_db()
    assert f"Done: line {circle.lines[0]}: made a circle" in shown
    assert drawn.drawing_json != before
    assert [entry["why"] for entry in drawn.changes] == ["mend-circle"]
    assert not [mend for mend in mend_step.offered(drawn) if mend.code == "circle"]
    post(client, drawn, mend=circle.key)
    drawn.refresh_from_db()
    assert len(drawn.changes) == 1  # pressing twice is the same as once
    post(client, drawn, undo="1")
    drawn.refresh_from_db()
    assert drawn.changes == []
    assert drawn.drawing_json == before


def test_nothing_is_changed_unasked_and_handing_in_is_not_blocked(
    cast: Cast, drawn: Pattern
) -> None:
    before = drawn.tracing, drawn.drawing_json
    page(signed_in(cast.owner), drawn)
    hand_in(drawn, acting=cast.owner)
    drawn.refresh_from_db()
    assert (drawn.tracing, drawn.drawing_json, drawn.changes) == (*before, [])
    assert drawn.state == Pattern.State.HANDED_IN
    assert "A neater drawing" not in page(signed_in(cast.owner), drawn)


def test_exact_drawings_have_no_such_section(cast: Cast) -> None:
    project = make_project(cast)
    assert "A neater drawing" not in page(signed_in(cast.owner), bring(project, DISC))
    inked = bring(project, ruler_drawn(), filename="ruled.png", dpi=300)
    assert "A neater drawing" not in page(signed_in(cast.owner), inked)


def test_all_of_a_kind_are_one_change(cast: Cast, drawn: Pattern) -> None:
    offers = mend_step.offered(drawn)
    after = mend_step.do_all(drawn, "straight", acting=cast.owner)
    assert after.changes
    assert mend_step.newest_mend(after) is not None
    assert mend_step.offered(after) != offers
    assert mend_step.do_all(after, "straight", acting=cast.owner).changes == after.changes
    assert mend_step.undo_mend(after, acting=cast.owner).changes == []


def test_the_teacher_sees_what_was_neatened(cast: Cast, drawn: Pattern) -> None:
    circle = next(mend for mend in mend_step.offered(drawn) if mend.code == "circle")
    after = mend_step.do_mend(drawn, circle.key, acting=cast.owner)
    hand_in(after, acting=cast.owner)
    shown = words(signed_in(cast.teacher).get(reverse("pattern_review", args=[after.pk])))
    assert "Neatened on screen" in shown
    assert f"line {circle.lines[0]}: made a circle" in shown
    row = History.objects.about(after.project).filter(text__contains="neatened").get()
    assert "made line" in row.text
    assert row.actor == cast.owner


def test_a_returned_pattern_is_mended_in_a_new_revision(cast: Cast, drawn: Pattern) -> None:
    hand_in(drawn, acting=cast.owner)
    return_pattern(drawn, acting=cast.teacher, remark="Use a ruler.")
    drawn = Pattern.objects.get(pk=drawn.pk)
    mend = mend_step.offered(drawn)[0]
    after = mend_step.do_mend(drawn, mend.key, acting=cast.owner)
    assert after.pk != drawn.pk
    assert after.changes
    assert Pattern.objects.get(pk=drawn.pk).changes == []


def test_what_is_no_longer_offered_is_refused_in_words(cast: Cast, drawn: Pattern) -> None:
    with pytest.raises(Refused, match="no longer fits"):
        mend_step.do_mend(drawn, "0" * 16, acting=cast.owner)
    with pytest.raises(Refused, match="no longer fits"):
        mend_step.do_all(drawn, "beautiful", acting=cast.owner)
    with pytest.raises(Refused, match="no mend"):
        mend_step.undo_mend(drawn, acting=cast.owner)
    mend = mend_step.offered(drawn)[0]
    after = mend_step.do_mend(drawn, mend.key, acting=cast.owner)
    hand_in(after, acting=cast.owner)
    with pytest.raises(Refused, match="handed in"):
        undo(after, acting=cast.owner)


def test_nobody_else_mends_a_pattern(cast: Cast, drawn: Pattern) -> None:
    address = reverse("pattern_mend", args=[drawn.pk])
    assert signed_in(cast.classmate).post(address, {"undo": "1"}).status_code == 404
    assert signed_in(cast.teacher).post(address, {"undo": "1"}).status_code == 403
    assert signed_in(cast.owner).get(address).status_code == 405
    assert "A neater drawing" not in page(signed_in(cast.teacher), drawn)
    assert Project.objects.get(pk=drawn.project_id).stage == Project.Stage.DRAWING


def test_offers_are_worked_out_once_and_large_drawings_wait_to_be_asked(
    cast: Cast, drawn: Pattern, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = 0

    def counting(*given: object) -> object:
        nonlocal calls
        calls += 1
        return mends(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(mend_step, "mends", counting)
    monkeypatch.setattr(mend_step, "is_quick", lambda _: False)
    client = signed_in(cast.owner)
    shown = page(client, drawn)
    assert "Look for lines that could be neater" in shown
    assert calls == 0
    assert "Straighten the 4 sides" in page(client, drawn, "?neater=1")
    assert "Straighten the 4 sides" in page(client, drawn)
    assert calls == 1


def test_a_large_drawing_is_looked_at_by_turns(
    cast: Cast, drawn: Pattern, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mend_step, "is_quick", lambda _: False)
    monkeypatch.setattr(mend_step, "IN_THE_WEB", Turns(waiting=0, each=1, seconds=0.0))
    client = signed_in(cast.owner)
    address = reverse("pattern", args=[drawn.pk])
    with mend_step.IN_THE_WEB.turn(0):
        assert client.get(address).status_code == 200
        answer = client.get(address, {"neater": "1"})
        assert answer.status_code == 503
        assert "Try in a moment" in words(answer)
    assert "Straighten the 4 sides" in page(client, drawn, "?neater=1")
