"""From an empty installation to a student's first sign-in, as a teacher does it on day one."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from classroom.models import BenchPermit, Course, School, User

from .conftest import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LIST = "id,givenName,familyName,section,email\n7,Ansel,Dory,B,a@x.example\n8,Bo,Ketch,B,\n"


def test_a_school_is_set_up_and_a_student_signs_in(visitor: Visitor) -> None:
    page = visitor.go("/")
    assert page.url.endswith("/first-run/")
    visitor.look("0-first-run")
    page.get_by_label("Name of the school").fill("Saltmarsh Harbour School")
    page.get_by_label("Your name").fill("Marit Quay")
    page.get_by_label("Your user name").fill("marit.quay")
    page.get_by_label("Passphrase", exact=False).first.fill("tide-lantern-quay-42")
    page.get_by_label("Passphrase once more").fill("tide-lantern-quay-42")
    page.get_by_role("button", name="Set up the school").click()
    page.wait_for_url("**/courses/")
    assert School.objects.get().name == "Saltmarsh Harbour School"
    visitor.look("0-no-course")

    page.get_by_role("link", name="New course").first.click()
    page.get_by_label("Title").fill("Metals 1")
    page.get_by_label("Term").fill("Autumn 2026")
    page.get_by_label("First day").fill("2026-09-01")
    page.get_by_label("Last day").fill("2027-01-29")
    visitor.look("0-course-new")
    page.get_by_role("button", name="Make the course").click()
    page.wait_for_url("**/courses/*/")
    course = Course.objects.get()

    page.get_by_role("link", name="Add students").first.click()
    visitor.look("0-students-add")
    page.locator("input[type=file]").set_input_files(
        {"name": "class.csv", "mimeType": "text/csv", "buffer": LIST.encode()}
    )
    page.get_by_role("button", name="See what would happen").click()
    page.wait_for_selector("text=Nothing is saved yet")
    visitor.look("0-preview")
    page.get_by_role("button", name="Save the class list").click()
    page.wait_for_url("**/students/")
    visitor.look("0-class-list")
    assert course.seats.count() == 2

    page.get_by_role("button", name="Cards for all without one").click()
    page.wait_for_selector(".card-slip")
    visitor.look("0-cards")
    name = page.locator(".card-user").first.inner_text()
    passphrase = page.locator(".card-secret").first.inner_text()

    topic = course.school.topics.get(code="saw-frame")
    ansel = User.objects.get(username="ansel.d")
    visitor.go(f"/safety/permits/give/?course={course.pk}&topic={topic.pk}&student={ansel.pk}")
    visitor.look("0-permit-give")
    page.get_by_label("Why you give it without what is missing").fill("Asked at the bench")
    page.get_by_label("I watched each of them").check()
    page.get_by_role("button", name="Give the permits").click()
    page.wait_for_url("**/permits/")
    visitor.look("0-permits")
    assert BenchPermit.objects.get().student == ansel

    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    visitor.look("0-sign-in")
    page.get_by_label("User name").fill(name)
    page.get_by_label("Passphrase").fill(passphrase)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "sign-in" not in url)
    visitor.go("/safety/")
    visitor.look("0-own-permits")
    expect(page.get_by_text("Until").first).to_be_visible()
