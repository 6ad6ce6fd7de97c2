"""Pages on which a layout is handed in, looked at, marked, nudged and answered."""

from __future__ import annotations

import pytest
from django.urls import reverse

from classroom.permissions import POLICY, Action
from inventory.models import StockPiece
from studio.models import Brief, Layout, Pattern
from studio.steps.layouts.change import put
from studio.steps.layouts.nudge import nudge_layout
from studio.steps.layouts.tries import copy
from studio.steps.patterns.hand_in import hand_in
from studio.views.own_layouts.shown import compared
from tests.people import Cast, signed_in
from tests.studio.patterns.making import (
    mine,
    words,
)

from .laying import in_a_row, layout
from .making import fresh, lay

pytestmark = pytest.mark.django_db


@pytest.fixture
def own(draft: Pattern, sheet: StockPiece) -> Layout:
    return layout(draft.project, [sheet], at=(60.0, 40.0))


@pytest.fixture
def waiting(draft: Pattern, own: Layout) -> Pattern:
    return mine(hand_in(draft, acting=draft.project.student))


def review(pattern: Pattern) -> str:
    return reverse("pattern_review", args=[pattern.pk])


def test_the_teacher_sees_both_with_the_figures_beside_the_servers(
    cast: Cast, waiting: Pattern, own: Layout
) -> None:
    own.refresh_from_db()
    own.beside = own.figures | {"consumed_mm2": 850.0, "metal_price": "0.85"}
    own.save()
    page = words(signed_in(cast.teacher).get(review(waiting)))
    for said in ("The layout", "CU-1", "Metal used up", "The server’s", "better", "Nudge it"):
        assert said in page


def test_a_mark_is_put_by_a_tap_or_by_choosing_a_piece_and_drawn_for_the_student(
    cast: Cast, waiting: Pattern, own: Layout
) -> None:
    desk = signed_in(cast.teacher)
    back = {"decision": "return", "remark": "Into the corner."}
    desk.post(review(waiting), back | {"at": "layout|CU-1|12.5|8"})
    returned = mine(waiting)
    assert returned.mark == {"on": "layout", "metal": "CU-1", "x_mm": 12.5, "y_mm": 8.0}
    own_desk = signed_in(cast.owner)
    for name, key in (("pattern", returned.pk), ("project", returned.project_id)):
        page = own_desk.get(reverse(name, args=[key])).content.decode()
        # 150 × 90 mm with its corner at nothing: y counts from above in a picture
        assert 'class="d-mark" cx="12.50" cy="82.00"' in page
    assert "change the layout and hand it in again" in page
    # The table has the button from the beginning: nobody has to load the page again after a change.
    table = own_desk.get(reverse("layout", args=[own.pk])).content.decode()
    assert "Hand in again with this layout" in table


def test_two_that_are_told_by_the_same_figure_are_not_called_better() -> None:
    worth = {"touched_mm2": 1000.0, "kept_mm2": 476.0, "metal_price": "1.00"}
    for theirs, better in ((483.0, ""), (495.0, "server")):
        rows = compared(worth, worth | {"kept_mm2": theirs})
        assert [row.better for row in rows if row.label == "Goes back to the rack"] == [better]


def test_the_layout_table_says_and_draws_the_remark_until_it_is_handed_in_again(
    cast: Cast, waiting: Pattern, own: Layout
) -> None:
    back = {"decision": "return", "remark": "Into the corner.", "at": "layout|CU-1|12.5|8"}
    signed_in(cast.teacher).post(review(waiting), back)
    desk, table = signed_in(cast.owner), reverse("layout", args=[own.pk])
    answer = desk.get(table)
    page, said = answer.content.decode(), words(answer)
    assert 'class="d-mark" cx="12.50" cy="82.00"' in page  # without a script
    assert 'data-metal="CU-1" data-at="12.50 8.00"' in page  # for the script
    assert "Marit Quay handed this back" in said
    assert "Into the corner." in said
    assert "The ring on CU-1 shows where: 12.5 mm from the left, 8.0 mm from below." in said
    other = copy(fresh(own, cast.owner), acting=cast.owner)
    beside = desk.get(reverse("layout", args=[other.pk]))
    assert "in the layout that was handed back" in words(beside)  # its pieces lie otherwise
    assert "d-mark" not in beside.content.decode()
    put(fresh(own, cast.owner), [lay(own, 0, 70.0, 40.0)], acting=cast.owner)
    moved = words(desk.get(table, {"lang": "es"}))
    for said in ("Into the corner.", "Marit Quay lo devolvió", "a 12.5 mm de la izquierda"):
        assert said in moved
    desk.post(reverse("pattern_hand_in", args=[waiting.pk]))
    after = desk.get(table).content.decode()
    assert "Into the corner." not in after
    assert "d-mark" not in after


def test_a_remark_on_the_drawing_leads_from_the_table_to_it(
    cast: Cast, waiting: Pattern, own: Layout
) -> None:
    back = {"decision": "return", "remark": "Rounder.", "at": "pattern||3|4"}
    signed_in(cast.teacher).post(review(waiting), back)
    answer = signed_in(cast.owner).get(reverse("layout", args=[own.pk]))
    assert "It points at a place in the drawing of the pattern." in words(answer)
    assert f'href="{reverse("pattern", args=[waiting.pk])}"' in answer.content.decode()
    assert "d-mark" not in answer.content.decode()


@pytest.mark.parametrize(
    ("said", "on"),
    [
        ({"points_at": "layout-0"}, "layout"),
        ({"points_at": "pattern-1"}, "pattern"),
        ({"at": "pattern||3|4"}, "pattern"),
        ({"at": "layout|CU-7|12.5|8"}, None),
        ({"at": "layout|CU-1|nan|8"}, None),
        ({"at": "nonsense"}, None),
        ({}, None),
    ],
)
def test_what_is_no_place_makes_no_mark(
    cast: Cast, waiting: Pattern, said: dict[str, str], on: str | None
) -> None:
    points = f"pattern-{waiting.drawing.pieces[0].id}"
    if said.get("points_at") == "pattern-1":
        said = {"points_at": points}
    signed_in(cast.teacher).post(review(waiting), {"decision": "return", "remark": "So."} | said)
    mark = mine(waiting).mark
    assert (mark["on"] if mark else None) == on


def test_the_plan_takes_the_one_that_the_teacher_chose(
    cast: Cast, waiting: Pattern, own: Layout
) -> None:
    own.refresh_from_db()
    nudged = nudge_layout(own, acting=cast.teacher)
    nudged.placements = in_a_row(waiting, "CU-1", at=(0.0, 0.0))
    nudged.save()
    desk = signed_in(cast.teacher)
    assert "yours: Nudged by Marit Quay" in words(desk.get(review(waiting)))
    desk.post(review(waiting), {"decision": "approve", "remark": "", "layout": str(nudged.pk)})
    nudged.refresh_from_db()
    assert (mine(waiting).state, nudged.chosen) == (Pattern.State.APPROVED, True)
    page = words(signed_in(cast.owner).get(reverse("project", args=[waiting.project_id])))
    assert "The layout" in page


def test_a_student_hands_in_both_or_the_pattern_alone(
    cast: Cast, draft: Pattern, own: Layout
) -> None:
    desk = signed_in(cast.owner)
    page = words(desk.get(reverse("pattern", args=[draft.pk])))
    assert "Hand in pattern and layout" in page
    assert "Hand in without my layout" in page
    own.placements[0]["x_mm"] = -20.0
    own.save()
    address = reverse("pattern_hand_in", args=[draft.pk])
    assert "over the edge" in words(desk.post(address, follow=True))
    assert mine(draft).state == Pattern.State.DRAFT
    desk.post(address, {"without_layout": "on"})
    assert mine(draft).state == Pattern.State.HANDED_IN


def test_a_refusal_is_told_in_the_students_language(
    cast: Cast, draft: Pattern, own: Layout
) -> None:
    own.placements = []
    own.save()
    address = reverse("pattern_hand_in", args=[draft.pk])
    answer = signed_in(cast.owner).post(address, {"lang": "es"}, follow=True)
    assert "bandeja" in words(answer)


def test_what_stands_offers_no_way_without(cast: Cast, draft: Pattern, own: Layout) -> None:
    Brief.objects.update(laid_by=Brief.LaidBy.STANDS)
    page = words(signed_in(cast.owner).get(reverse("pattern", args=[draft.pk])))
    assert "the pattern is handed in together with it" in page
    assert "Hand in without my layout" not in page


# address, and the answers to teacher, owner, classmate and outsider
DEEDS = [
    ("layout_nudge", 302, 403, 403, 404),
    ("layout_renew", 409, 409, 404, 404),
    ("layout_use", 409, 403, 403, 404),
]


@pytest.mark.parametrize(("name", "teacher", "owner", "classmate", "outsider"), DEEDS)
def test_four_people_before_what_is_done_with_a_layout(
    cast: Cast,
    waiting: Pattern,
    own: Layout,
    name: str,
    teacher: int,
    owner: int,
    classmate: int,
    outsider: int,
) -> None:
    address = reverse(name, args=[own.pk])
    for person, expected in (
        (cast.outsider, outsider),
        (cast.other_teacher, 404),
        (cast.classmate, classmate),
        (cast.owner, owner),
        (cast.teacher, teacher),
    ):
        desk = signed_in(person)
        assert desk.get(address).status_code in (403, 404, 405)
        assert desk.post(address).status_code == expected, f"{person} {name}"


def test_whoever_may_not_hand_in_layouts_hands_in_the_pattern_alone(
    cast: Cast, draft: Pattern, own: Layout, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(POLICY, Action.HAND_IN_LAYOUT, frozenset())
    signed_in(cast.owner).post(reverse("pattern_hand_in", args=[draft.pk]))
    own.refresh_from_db()
    assert mine(draft).state == Pattern.State.HANDED_IN
    assert not own.is_handed_in
