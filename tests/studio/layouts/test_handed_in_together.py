"""A pattern goes to the teacher together with its layout, and comes back with it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from shapely.geometry import box

from classroom.models import History
from classroom.refusals import Refused
from inventory.models import StockPiece
from studio.core.cutting import plan_to_json
from studio.core.placing import place
from studio.models import Brief, Layout, Pattern, Project, TrialLayout
from studio.steps.layouts import tries
from studio.steps.layouts.change import put
from studio.steps.layouts.nudge import nudge_layout
from studio.steps.layouts.renew import renew_layout
from studio.steps.layouts.standing import what_no_longer_holds
from studio.steps.patterns.answer import approve_pattern, return_pattern
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.relabel import change_metal
from studio.steps.patterns.take_back import take_back
from tests.people import Cast, signed_in
from tests.studio.patterns.making import make_metal, mine, words
from tests.studio.plans import making

from .laying import in_a_row, layout, pattern_of
from .making import fresh, lay

pytestmark = pytest.mark.django_db


def given(draft: Pattern, **how: Any) -> Pattern:
    return mine(hand_in(mine(draft), acting=draft.project.student, **how))


def test_what_is_handed_in_has_its_figures_and_is_told(draft: Pattern, own: Layout) -> None:
    given(draft)
    own.refresh_from_db()
    assert own.is_handed_in
    assert own.figures["piece_area_mm2"] == pytest.approx(800, abs=1)
    assert own.figures["touched_mm2"] == 13500
    # 40 × 20 mm in the corner and the saw's dust, at 0.001 a square millimetre
    assert own.figures["consumed_mm2"] == pytest.approx(40.3 * 20.3, abs=0.1)
    assert Decimal(own.figures["metal_price"]) == Decimal("0.82")
    assert own.beside == {}
    assert "with layout 1" in History.objects.get(verb="pattern-handed-in").text


def test_beside_it_stands_what_the_server_made_of_the_same(
    cast: Cast, draft: Pattern, own: Layout, sheet: StockPiece
) -> None:
    own.placements = in_a_row(draft, "CU-1", at=(60.0, 40.0))
    own.save()
    answer = plan_to_json(place(own.asked, rounds=1, seed=1))
    TrialLayout.objects.create(pattern=draft, key="a", state="done", job=own.job, answer=answer)
    given(draft)
    own.refresh_from_db()
    assert 0 < own.beside["consumed_mm2"] < own.figures["consumed_mm2"]
    assert Decimal(own.beside["metal_price"]) > 0
    told = own.beside
    # Handed back and in again as a new version, of which the server has laid nothing yet.
    return_pattern(mine(draft), acting=cast.teacher, remark="Into the corner.")
    put(fresh(own, cast.owner), [lay(own, 0, 2.0, 2.0)], acting=cast.owner)
    assert given(draft).pk != draft.pk
    own.refresh_from_db()
    assert own.beside == told


def faulty(own: Layout) -> None:
    own.placements[0]["x_mm"] -= 3.0
    own.save()


def in_the_tray(own: Layout) -> None:
    own.placements = []
    own.save()


def keeps_too_little(own: Layout) -> None:
    Brief.objects.update(least_kept_percent=94)


def of_lines_before(own: Layout) -> None:
    own.job["pieces"][0]["outline"] = "POLYGON ((0 0, 30 0, 30 9, 0 9, 0 0))"
    own.save()


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (faulty, "1 piece lies over the edge"),
        (in_the_tray, "1 piece is still in the tray"),
        (keeps_too_little, "your teacher asks for 94 %"),
        (of_lines_before, "laid for the pattern as it was before"),
    ],
)
def test_a_layout_that_is_not_fit_is_refused_and_the_pattern_can_go_without(
    draft: Pattern, own: Layout, spoil: Any, said: str
) -> None:
    spoil(own)
    with pytest.raises(Refused, match=said) as refusal:
        given(draft)
    assert "without my layout" in str(refusal.value)
    assert mine(draft).state == Pattern.State.DRAFT
    assert given(draft, without_layout=True).state == Pattern.State.HANDED_IN
    own.refresh_from_db()
    assert not own.is_handed_in


def test_where_it_stands_a_pattern_is_not_handed_in_without_one(
    draft: Pattern, sheet: StockPiece
) -> None:
    Brief.objects.update(laid_by=Brief.LaidBy.STANDS)
    for without in (False, True):
        with pytest.raises(Refused, match="Lay your pieces out"):
            given(draft, without_layout=without)
    layout(draft.project, [sheet])
    assert given(draft).state == Pattern.State.HANDED_IN


def test_where_the_server_lays_out_no_layout_is_taken_in(draft: Pattern, own: Layout) -> None:
    Brief.objects.update(laid_by=Brief.LaidBy.SERVER)
    faulty(own)
    assert given(draft).state == Pattern.State.HANDED_IN
    own.refresh_from_db()
    assert not own.is_handed_in


def test_taken_back_it_is_open_again(draft: Pattern, own: Layout) -> None:
    take_back(given(draft), acting=draft.project.student)
    own.refresh_from_db()
    assert not own.is_handed_in


def test_handed_back_only_for_its_layout_it_comes_again_as_a_new_version(
    cast: Cast, draft: Pattern, own: Layout
) -> None:
    mark = {"on": "layout", "metal": "CU-1", "x_mm": 4.0, "y_mm": 5.0}
    return_pattern(given(draft), acting=cast.teacher, remark="Use the corner.", mark=mark)
    returned = mine(draft)
    own.refresh_from_db()
    assert (returned.mark, own.is_handed_in) == (mark, False)
    with pytest.raises(Refused, match="handed this pattern back"):
        given(returned)
    own.placements = in_a_row(draft, "CU-1", at=(2.0, 2.0))
    own.changed_at = timezone.now()
    own.save()
    again = given(returned)
    own.refresh_from_db()
    assert (again.number, again.state) == (2, Pattern.State.HANDED_IN)
    assert mine(draft).remark == "Use the corner."
    assert (own.pattern_id, own.is_handed_in) == (again.pk, True)
    assert [p.piece for p in own.laid] == [f"{again.pk}/{again.drawing.pieces[0].id}"]


def test_handed_back_for_its_layout_another_try_that_was_laid_before_may_come_instead(
    cast: Cast, draft: Pattern, own: Layout, sheet: StockPiece
) -> None:
    other = layout(draft.project, [sheet], at=(2.0, 2.0), chosen=False)
    return_pattern(given(draft), acting=cast.teacher, remark="The other one was better.")
    other = Layout.objects.get(pk=other.pk)
    tries.choose(other, acting=own.owner)
    page = words(signed_in(cast.owner).get(reverse("project", args=[draft.project_id])))
    assert "Hand in again with this layout" in page
    again = given(mine(draft))
    other.refresh_from_db()
    assert (again.number, again.state) == (2, Pattern.State.HANDED_IN)
    assert (other.pattern_id, other.is_handed_in) == (again.pk, True)


def test_approving_takes_the_nudged_one_and_keeps_the_students(
    cast: Cast, draft: Pattern, own: Layout
) -> None:
    handed = given(draft)
    own.refresh_from_db()
    nudged = nudge_layout(own, acting=cast.teacher)
    assert nudge_layout(own, acting=cast.teacher) == nudged
    assert (nudged.owner, nudged.name) == (cast.teacher, "Nudged by Marit Quay")
    nudged.placements = in_a_row(draft, "CU-1", at=(20.0, 30.0))
    nudged.save()
    making.allot(cast)
    approve_pattern(handed, acting=cast.teacher, place_now=False, layout=nudged)
    own.refresh_from_db()
    assert (own.chosen, own.is_handed_in) == (False, True)
    project = Project.objects.get()
    plan = making.placed(cast, project)
    assert plan.laid is not None
    assert set(plan.laid.placements) == set(nudged.laid)


def test_a_nudged_one_with_a_fault_is_not_taken(cast: Cast, draft: Pattern, own: Layout) -> None:
    handed = given(draft)
    own.refresh_from_db()
    nudged = nudge_layout(own, acting=cast.teacher)
    faulty(nudged)
    with pytest.raises(Refused, match="over the edge"):
        approve_pattern(handed, acting=cast.teacher, layout=nudged)
    assert mine(draft).state == Pattern.State.HANDED_IN


def test_what_no_longer_holds_is_told_and_renewed(
    cast: Cast, draft: Pattern, own: Layout, sheet: StockPiece
) -> None:
    assert what_no_longer_holds(own) == []
    other = making.stock(sheet.metal, "CU-2", box(0, 0, 60, 40), cost="2.00")
    own.job = layout(draft.project, [sheet, other], chosen=False).job
    own.pinned = [[own.placements[0]["piece"], 0]]
    own.past = [{"something": "done"}]
    own.save()
    StockPiece.objects.filter(pk=other.pk).update(state=StockPiece.State.RESERVED)
    StockPiece.objects.filter(pk=sheet.pk).update(clean_edges=False)
    Brief.objects.update(hand="first", kerf_mm="0.40")
    own = Layout.objects.get(pk=own.pk)
    assert what_no_longer_holds(own) == [
        "The edges of CU-1 have been corrected.",
        "CU-2 is not free on the rack any more.",
        "The saw takes 0.40 mm now, not 0.30 mm.",
        "Pieces keep 2.00 mm between them now, not 1.00 mm.",
        "A shared line is 0.80 mm wide now, not 0.50 mm.",
    ]
    before = own.placements
    renewed = renew_layout(own, acting=draft.project.student)
    assert what_no_longer_holds(Layout.objects.get(pk=own.pk)) == []
    assert (renewed.placements, renewed.past, renewed.version) == (before, [], own.version + 1)
    assert renewed.pinned == own.pinned
    assert [metal["id"] for metal in renewed.job["metal"]] == ["CU-1"]
    assert renew_layout(renewed, acting=draft.project.student).version == renewed.version


def test_a_layout_on_another_metal_than_the_project_has_now_says_so(
    cast: Cast, draft: Pattern, own: Layout, sheet: StockPiece
) -> None:
    brass = make_metal(cast, "C26000")
    making.stock(brass, "BR-1", box(0, 0, 80, 60), cost="5.00")
    draft.project.brief.metals.add(brass)
    changed = change_metal(draft, brass, draft.copies, acting=own.owner)
    own = Layout.objects.get(pk=own.pk)
    assert what_no_longer_holds(own) == ["CU-1 is not of the metal that the project has now."]
    with pytest.raises(Refused, match="on another metal than"):
        given(changed)
    renewed = renew_layout(own, acting=own.owner)
    assert [metal["id"] for metal in renewed.job["metal"]] == ["BR-1"]
    assert renewed.placements == []


def test_what_lay_on_metal_that_is_gone_is_in_the_tray_again(
    draft: Pattern, own: Layout, sheet: StockPiece
) -> None:
    making.stock(sheet.metal, "CU-2", box(0, 0, 60, 40), cost="2.00")
    StockPiece.objects.filter(pk=sheet.pk).update(state=StockPiece.State.GONE)
    renewed = renew_layout(own, acting=draft.project.student)
    assert renewed.placements == []
    assert [metal["id"] for metal in renewed.job["metal"]] == ["CU-2"]


def test_a_layout_that_is_handed_in_is_not_renewed(draft: Pattern, own: Layout) -> None:
    given(draft)
    with pytest.raises(Refused, match="This layout is handed in"):
        renew_layout(Layout.objects.get(pk=own.pk), acting=draft.project.student)


def test_of_a_changed_pattern_pieces_keep_their_places_by_their_ids(
    draft: Pattern, own: Layout
) -> None:
    newer = pattern_of(draft.project)
    newer.pk, newer.number = None, 2
    Pattern.objects.update(state=Pattern.State.ASIDE)
    newer.save()
    renewed = renew_layout(own, acting=draft.project.student)
    assert renewed.pattern_id == newer.pk
    assert [p.piece for p in renewed.laid] == [f"{newer.pk}/{newer.drawing.pieces[0].id}"]
