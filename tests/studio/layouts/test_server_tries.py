"""The server lays all, the rest, something better, or the nearest good: as a try of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.refusals import Busy, Refused
from studio.core.cutting import Placement
from studio.core.cutting.by_hand import placement_to_json
from studio.core.verifying import faults, measure
from studio.models import Layout, Pattern, TrialLayout
from studio.running.trials import doing
from studio.running.trials.nearest import nearest
from studio.steps.layouts import trial_lease as lease
from studio.steps.layouts.begin import MOST_TRIES, begin
from studio.steps.layouts.server_tries import ask_server
from tests.people import Cast, signed_in
from tests.studio.bench.making import World
from tests.studio.patterns.making import words

Wish = TrialLayout.Wish


@pytest.fixture
def own(pattern: Pattern) -> Layout:
    """The owner's try with three bars of 40 × 20 mm in the tray, on a sheet of 120 × 80 mm."""
    Pattern.objects.filter(pk=pattern.pk).update(copies=3)
    return begin(pattern.project, acting=pattern.project.student)


@pytest.fixture
def lay(own: Layout) -> Callable[..., Layout]:
    def put(*places: tuple[float, float], pinned: list[int] | None = None) -> Layout:
        """Copies 0, 1 … with their lower left corner there; the drawing begins at 5, 15."""
        metal, piece = own.asked.metal[0].id, own.asked.pieces[0]
        x0, y0, _, _ = piece.outline.bounds
        own.placements = [
            placement_to_json(Placement(piece.id, k, metal, False, 0.0, x - x0, y - y0))
            for k, (x, y) in enumerate(places)
        ]
        own.pinned = [[piece.id, k] for k in pinned or []]
        own.version += 1
        own.save()
        return own

    return put


def made_by(layout: Layout, wish: str) -> Layout:
    """What a worker makes of it."""
    trial = ask_server(layout, wish, acting=layout.owner)
    assert doing.run(trial.pk, "here/1"), TrialLayout.objects.get(pk=trial.pk).error
    trial.refresh_from_db()
    assert trial.made is not None
    assert faults(layout.asked, trial.made.laid) == ()
    return trial.made


def spots(layout: Layout) -> dict[int, tuple[float, float]]:
    return {p.copy: (round(p.x_mm, 3), round(p.y_mm, 3)) for p in layout.laid}


def test_the_whole_is_a_try_of_its_own_and_the_persons_stays(lay: Any) -> None:
    own = lay((30, 30))
    before = own.placements
    made = made_by(own, Wish.WHOLE)
    assert (made.origin, made.name, made.owner) == ("server", "Laid by the server", own.owner)
    assert len(made.laid) == 3
    own.refresh_from_db()
    assert own.placements == before
    assert own.chosen
    again = ask_server(own, Wish.WHOLE, acting=own.owner)
    assert again.made == made  # the same job is not laid twice
    made.delete()
    assert ask_server(own, Wish.WHOLE, acting=own.owner).made is not None  # nor searched again


def test_the_rest_leaves_every_piece_where_it_lies(lay: Any) -> None:
    own = lay((2, 2), (2, 58))
    made = made_by(own, Wish.REST)
    assert len(made.laid) == 3
    assert {k: at for k, at in spots(made).items() if k < 2} == spots(own)


def test_the_rest_is_refused_while_what_lies_is_not_good(lay: Any) -> None:
    own = lay((2, 2), (20, 10))
    with pytest.raises(Refused, match="must be good first"):
        ask_server(own, Wish.REST, acting=own.owner)
    assert not TrialLayout.objects.filter(layout=own).exists()


def test_improving_keeps_what_is_pinned_and_is_never_dearer(lay: Any) -> None:
    own = lay((2, 2), (50, 20), (5, 57.5), pinned=[1])
    before = measure(own.asked, own.laid)[0].cost
    made = made_by(own, Wish.IMPROVE)
    assert spots(made)[1] == spots(own)[1]
    assert measure(made.asked, made.laid)[0].cost < before
    assert made.pinned == own.pinned
    pinned = [[p.piece, p.copy] for p in own.laid]  # nothing may be moved, so nothing is better
    Layout.objects.filter(pk=own.pk).update(pinned=pinned, version=own.version + 1)
    own.refresh_from_db()
    trial = ask_server(own, Wish.IMPROVE, acting=own.owner)
    assert not doing.run(trial.pk, "here/1")
    trial.refresh_from_db()
    assert "nothing better" in trial.error


def test_the_nearest_moves_what_is_wrong_a_little_and_nothing_else(lay: Any) -> None:
    own = lay((2, 2), (2, 22.6), (60, 40))  # 0.6 mm apart; a shared line wants 0.5, the gap is 1
    assert faults(own.asked, own.laid)
    made = made_by(own, Wish.NEAREST)
    moved = {k for k in range(3) if spots(made)[k] != spots(own)[k]}
    assert len(moved) == 1
    (one,) = moved
    (x0, y0), (x1, y1) = spots(own)[one], spots(made)[one]
    assert abs(x1 - x0) + abs(y1 - y0) < 1.5
    with pytest.raises(Refused, match="Nothing is wrong"):
        ask_server(made, Wish.NEAREST, acting=own.owner)


def test_the_nearest_leaves_what_is_pinned(lay: Any) -> None:
    own = lay((2, 2), (2, 22.6))
    piece = own.asked.pieces[0].id
    for pinned in (0, 1):
        found = nearest(own.asked, own.laid, {(piece, pinned)})
        assert found[pinned] == own.laid[pinned]
        assert faults(own.asked, found) == ()
    elsewhere = replace(own.laid[0], metal="GONE")
    assert nearest(own.asked, (elsewhere, own.laid[1])) == (own.laid[1],)


def test_a_person_has_two_searches_open_and_a_third_is_told_to_wait(lay: Any) -> None:
    own = lay((2, 2))
    for wish in (Wish.WHOLE, Wish.REST):
        ask_server(own, wish, acting=own.owner)
    with pytest.raises(Busy):
        ask_server(own, Wish.IMPROVE, acting=own.owner)
    assert ask_server(own, Wish.REST, acting=own.owner).is_open  # asked again is asked once
    assert TrialLayout.objects.filter(layout=own).count() == 2


def test_of_too_many_tries_the_servers_oldest_gives_way(lay: Any) -> None:
    own = lay((2, 2))
    first = made_by(own, Wish.WHOLE)
    while Layout.objects.count() < MOST_TRIES:
        begin(own.project, acting=own.owner)
    made = made_by(own, Wish.REST)
    assert not Layout.objects.filter(pk=first.pk).exists()
    Layout.objects.filter(pk=made.pk).update(chosen=False, version=1)  # moved by hand since
    with pytest.raises(Refused, match="12 tries"):
        ask_server(own, Wish.IMPROVE, acting=own.owner)


def test_one_that_failed_can_be_asked_for_again(lay: Any) -> None:
    own = lay((2, 2))
    trial = ask_server(own, Wish.WHOLE, acting=own.owner)
    lease.claim(trial.pk, "here/1")
    lease.fail(trial.pk, "here/1", "Something.")
    again = ask_server(own, Wish.WHOLE, acting=own.owner)
    assert (again.pk, again.state, again.error) == (trial.pk, lease.QUEUED, "")


def test_asking_comparing_and_taking_the_servers(
    lay: Any, own_desk: Client, django_capture_on_commit_callbacks: Any
) -> None:
    own = lay((2, 2), (2, 30), (60, 30))
    page = reverse("layout_compare", args=[own.pk])
    assert "What would the server do?" in words(own_desk.get(page))
    sent = own_desk.post(reverse("layout_server", args=[own.pk]), {"wish": "whole"})
    assert sent["Location"] == f"{page}?wish=whole"
    assert "The server is laying the pieces" in words(own_desk.get(page))
    asking = own_desk.get(page, HTTP_HX_REQUEST="true")
    assert "hx-trigger" in asking.content.decode()
    doing.run(TrialLayout.objects.get(layout=own).pk, "here/1")
    assert own_desk.get(page, HTTP_HX_REQUEST="true")["HX-Refresh"] == "true"
    shown = words(own_desk.get(page))
    assert "The server’s is better so far" in shown
    assert "The server’s needs" in shown  # less sawing: its bars lie on the edges
    assert shown.count('<figure class="picture">') == 2
    boxes = [one.split('"')[0].split()[2] for one in shown.split('class="drawing" viewBox="')[1:3]]
    assert boxes[0] == boxes[1]  # one scale
    made = TrialLayout.objects.get(layout=own).made
    assert made is not None
    own_desk.post(reverse("layout_tries", args=[made.pk]), {"do": "choose"})
    made.refresh_from_db()
    assert made.chosen


def test_a_student_who_beats_the_server_is_told_so(lay: Any, own_desk: Client) -> None:
    own = lay((30, 30), (75, 50), (60, 5))  # what the server is made to say, further below
    trial = ask_server(own, Wish.WHOLE, acting=own.owner)
    doing.run(trial.pk, "here/1")
    trial.refresh_from_db()
    assert trial.answer is not None
    good = trial.answer["placements"]
    TrialLayout.objects.update(answer=trial.answer | {"placements": own.placements})
    own.placements, own.version = good, own.version + 1
    own.save()
    shown = words(own_desk.get(reverse("layout_compare", args=[own.pk])))
    assert "You have beaten the server" in shown
    assert "Yours saves metal and sawing worth" in shown
    assert "Yours needs" in shown


def test_a_layout_with_faults_is_compared_too_and_says_what_is_wrong(
    lay: Any, own_desk: Client
) -> None:
    own = lay((2, 2), (20, 10))
    doing.run(ask_server(own, Wish.WHOLE, acting=own.owner).pk, "here/1")
    shown = words(own_desk.get(reverse("layout_compare", args=[own.pk])))
    assert "cannot be sawn like this" in shown
    assert "has 1 piece more laid" in shown


@pytest.mark.parametrize("name", ["layout_server", "layout_compare"])
def test_who_may(cast: Cast, world: World, lay: Any, name: str) -> None:
    own = lay((2, 2))
    address = reverse(name, args=[own.pk])

    def answer(who: str) -> int:
        browser = signed_in(getattr(cast, who))
        if name == "layout_compare":
            return browser.get(address).status_code
        return browser.post(address, {"wish": "whole"}).status_code

    well = 200 if name == "layout_compare" else 302
    assert [answer(who) for who in ("owner", "teacher", "classmate", "outsider")] == [
        well,
        well,
        404,
        404,
    ]
