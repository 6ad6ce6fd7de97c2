"""A refused form on a phone: what is to be put right is on the first screen, and leads there."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.people import Cast, make_cast

from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def cast(transactional_db: None) -> Cast:
    return make_cast()


@pytest.mark.parametrize("visitor", ["phone"], indirect=True)
def test_the_summary_has_the_focus_and_its_link_ends_in_the_field(
    visitor: Visitor, cast: Cast
) -> None:
    visitor.come_in("marit.quay")
    page = visitor.go(f"/courses/{cast.course.pk}/edit/")
    page.locator("[name=starts_on]").fill("2026-09-01")
    page.locator("[name=ends_on]").fill("2026-08-01")
    page.locator("main form.form-sheet button[type=submit]").click()
    summary = page.locator("#refused")
    expect(summary).to_be_focused()
    box = summary.bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= 700
    summary.get_by_role("link").first.click()
    expect(page.locator("[name=ends_on]")).to_be_focused()
    expect(page.locator("[name=ends_on]")).to_have_value("2026-08-01")
