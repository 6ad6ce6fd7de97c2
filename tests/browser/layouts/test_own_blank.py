"""A student at the own blank, parted out of a class's sheet: laid anew by hand and used."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from studio.models import CutPlan
from tests.browser.conftest import Visitor
from tests.people import Cast
from tests.studio.bench.making import make_world
from tests.studio.sharing import making

from .laying import heard, pull, spot

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_student_lays_anew_on_the_own_blank(visitor: Visitor, cast: Cast) -> None:
    world = make_world(cast)
    owner, other = world.project(cast.seat), world.project(cast.classmate_seat)
    making.handed_out(world, making.on_sheets_of_their_own(world, owner, other))
    plan = CutPlan.objects.get(shares__project=owner, shares__live=True)
    CutPlan.objects.filter(pk=plan.pk).update(to_lay_anew=True)
    page = visitor.come_in("wren.t")
    visitor.go(reverse("plan", args=[plan.pk]))
    visitor.look("own-blank-plan")
    page.get_by_role("link", name="To the layout table").click()
    expect(page.locator("[data-laying].has-script")).to_be_visible()
    expect(page.locator("[data-parting]")).to_have_count(0)
    assert plan.laid is not None
    (lies,) = plan.laid.placements
    x, y = lies.x_mm + 8, lies.y_mm + 8
    page.locator("[data-frame]").scroll_into_view_if_needed()
    pull(page, spot(page, x, y), spot(page, x + 30, y + 20))
    heard(page, 1)
    visitor.look("own-blank-table")
    page.get_by_role("button", name="Use this layout on the blank").click()
    expect(page.get_by_text("This is how the pieces lie on the blank now.")).to_be_visible()
    visitor.look("own-blank-used")
    now = CutPlan.objects.get(pk=plan.pk)
    assert (now.to_lay_anew, now.state) == (False, "issued")
    assert now.laid is not None
    assert now.laid.placements[0].x_mm == pytest.approx(lies.x_mm + 30, abs=1.0)
    assert visitor.complaints == []
