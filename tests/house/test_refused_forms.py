"""A refused form says so first: every form of the house, sent with nonsense."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

import pytest
from django import forms
from django.template import Context, Template
from django.test import Client
from django.urls import reverse

from classroom.models import Course, Topic
from classroom.refused_forms import MOST, wrongs_in
from classroom.safety.topics import seed_topics
from studio.models import CutPlan
from tests.people import signed_in

from ..people import Cast
from ..studio.patterns.making import bring, handed_in, make_project
from .addresses import OWN, filled

LINES = {"line-TOTAL_FORMS": "1", "line-INITIAL_FORMS": "0", "line-0-count": "many"}
OF_FIRST = {"topic_edit", "topic_questions_edit"}
QUESTIONS = {"q-TOTAL_FORMS": "1", "q-INITIAL_FORMS": "0", "q-0-right": "yes"}
OF_TEACHERS: dict[str, dict[str, str]] = {
    "school_settings": {},
    "teacher_new": {},
    "course_new": {},
    "course_edit": {},
    "class_list_add": {},
    "seat": {},
    "seat_move": {},
    "guardian_forms": {},
    "guardian_take_back": {},
    "own_account": {},
    "topic_new": {},
    "topic_edit": {},
    "topic_questions_edit": QUESTIONS,
    "permit_withdraw": {},
    "incident_new": {},
    "substance_new": {},
    "receive": LINES,
    "order_new": LINES,
    "metal_new": {},
    "supply_new": {},
    "scrap_boxes": {},
    "scrap_sell": {},
    "offcut_new": {},
    "offcut_from_svg": {},
    "offcut_from_photo": {},
    "stock_counts": {"metal": "999"},
    "budget_allot": {},
    "budget_transfer": {},
    "budget_policy": {},
    "brief_new": {},
    "brief_edit": {},
    "briefs_copy": {},
    "placing_settings": {"offcut_min_area": "wide"},
    "plan_drop": {"why": "x" * 151},
    "step_override": {},
    "frame_depth": {},
    "printers": {},
}


class Ids(HTMLParser):
    """Ids of a page with where each stands, and which of them are invalid and described by what."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.described: list[str] = []
        self.focused: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = dict(attrs)
        if has.get("id"):
            self.ids.append(str(has["id"]))
        if "autofocus" in has:
            self.focused.append(str(has.get("id")))
        if has.get("aria-invalid") == "true":
            # A group of choices is described as a whole, by its fieldset.
            nothing = "" if has.get("type") in {"radio", "checkbox"} else f"of-{has.get('name')}"
            self.described += str(has.get("aria-describedby", nothing)).split()


def faults_of(answer: Any) -> list[str]:
    """What is missing where a form was refused: summary, its place, links, focus, descriptions."""
    page = answer.content.decode()
    found = Ids(page)
    if 'id="refused"' not in page:
        return [f"no summary ({answer.status_code})"]
    above, summary = page.split('<section class="refused-forms"')
    summary, below = summary.split("</section>", 1)
    links: list[str] = re.findall(r'<a href="#([^"]+)"', summary)
    faults = {
        "no word in the title": "<title>Error: " not in page,
        "the summary is not the first thing": "<h1" in above or "<form" in above.split("<main")[1],
        "no link to a field": not links,
        "the focus is elsewhere": found.focused[:1] != ["refused"],
    }
    said = [fault for fault, there in faults.items() if there]
    said += [
        f"#{one} is there {found.ids.count(one)} times"
        for one in links
        if found.ids.count(one) != 1
    ]
    said += [f"no {one} describes the field" for one in found.described if one not in found.ids]
    said += [f"#{one} lies above" for one in links if f'id="{one}"' not in below]
    return said


@pytest.fixture
def routes() -> dict[str, str]:
    return {str(pattern.name): route for route, pattern in OWN}


def test_every_form_of_a_teacher_says_first_what_is_to_be_put_right(
    cast: Cast,
    routes: dict[str, str],
    numbers: dict[str, int],
) -> None:
    spring = Course.objects.create(
        school=cast.school,
        title="Metals 2",
        starts_on=cast.course.starts_on,
        ends_on=cast.course.ends_on,
    )
    spring.teachers.add(cast.teacher)
    CutPlan.objects.filter(pk=numbers["plan"]).update(state=CutPlan.State.APPROVED)
    client = signed_in(cast.teacher)
    first = str(Topic.objects.values_list("pk", flat=True).filter(school=cast.school)[0])
    faults: dict[str, list[str]] = {}
    for name, sent in OF_TEACHERS.items():
        route = routes[name].replace("<int:pk>", first) if name in OF_FIRST else routes[name]
        answer = client.post(
            f"/{filled(route.lstrip('/'), numbers).lstrip('/')}", {"odd": "1"} | sent
        )
        faults |= {name: said} if (said := faults_of(answer)) else {}
    assert faults == {}


def test_every_form_of_a_student_says_first_what_is_to_be_put_right(cast: Cast) -> None:
    project = make_project(cast)
    pattern = bring(project)
    seed_topics(cast.school)
    topic = Topic.objects.filter(school=cast.school).first()
    assert topic is not None
    client = signed_in(cast.owner)
    sheet = client.get(reverse("topic_questions", args=[topic.pk])).context["sheet"]
    asked = {
        reverse("own_account"): {"odd": "1"},
        reverse("pattern_upload", args=[project.pk]): {"odd": "1"},
        reverse("pattern_metal", args=[pattern.pk]): {"copies": "many"},
        reverse("topic_questions", args=[topic.pk]): {"sheet": sheet.token},
    }
    said = {where: faults_of(client.post(where, sent)) for where, sent in asked.items()}
    assert said == {where: [] for where in asked}


def test_a_refused_first_run_says_so_too(db: None, client: Client) -> None:
    assert faults_of(client.post("/first-run/", {"odd": "1"})) == []


def test_what_is_said_of_the_form_as_a_whole_leads_to_its_beginning(cast: Cast) -> None:
    answer = Client().post("/sign-in/", {"username": "wren.t", "password": "not it"})
    assert faults_of(answer) == []
    assert b'<a href="#id_username">' in answer.content
    assert b'value="wren.t"' in answer.content
    assert b"not it" not in answer.content


def test_the_review_of_a_pattern_says_first_what_is_to_be_put_right(cast: Cast) -> None:
    pattern = handed_in(make_project(cast))
    answer = signed_in(cast.teacher).post(
        reverse("pattern_review", args=[pattern.pk]), {"decision": "return", "remark": ""}
    )
    assert faults_of(answer) == []


class Two(forms.Form):
    first = forms.IntegerField()
    second = forms.IntegerField(label="The second")


def test_forms_inside_lists_are_found_once_and_unasked_ones_are_not_judged() -> None:
    refused, unasked = Two({"first": "1"}), Two({})
    assert not refused.is_valid()
    shown = {"rows": [{"form": refused}, refused], "form": unasked, "school": refused}
    assert [(one.label, one.name) for one in wrongs_in(shown)] == [("The second", "second")]
    assert getattr(unasked, "_errors") is None  # noqa: B009 (no public way to ask this)


def test_many_things_are_counted_and_not_all_named() -> None:
    lines = forms.formset_factory(Two, extra=0)(
        {"form-TOTAL_FORMS": "20", "form-INITIAL_FORMS": "0"}
        | {f"form-{n}-first": "many" for n in range(20)}
    )
    assert not lines.is_valid()
    page = Template(
        "{% load refused_forms %}{% refused_forms as refused %}"
        "{% below_refusals refused %}{{ lines }}{% endbelow_refusals %}"
    ).render(Context({"lines": lines}))
    summary = page.split("</section>")[0]
    assert summary.count("<li>") == MOST + 1
    assert '<a href="#id_form-0-first">Line 1, First: Enter a whole number.</a>' in summary
    assert "and 10 more" in summary
