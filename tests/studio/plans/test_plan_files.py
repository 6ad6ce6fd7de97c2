"""A cut plan as a file to keep: all of it for the teacher, the own pieces for a student."""

from __future__ import annotations

import pytest
from django.urls import reverse

from studio.core.reading import assemble, read_pattern
from studio.models import CutPlan
from tests.people import Cast, signed_in

from .making import shared_plan


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_four_people_before_the_plans_file(cast: Cast, plan: CutPlan, kind: str) -> None:
    address = reverse("plan_file", args=[plan.pk, kind])
    people = (cast.teacher, cast.owner, cast.classmate, cast.outsider)
    assert [signed_in(person).get(address).status_code for person in people] == [200, 200, 404, 404]


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_a_student_gets_the_own_pieces_only(cast: Cast, kind: str) -> None:
    plan = shared_plan(cast)
    address = reverse("plan_file", args=[plan.pk, kind])
    counts = {}
    for person in (cast.teacher, cast.owner, cast.classmate):
        answer = signed_in(person).get(address)
        assert answer["Content-Disposition"] == f'attachment; filename="cut-plan-{plan.pk}.{kind}"'
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert b"Secret fish" not in answer.content
        counts[person] = len(assemble(read_pattern(answer.content)).drawing.pieces)
    assert counts[cast.owner] >= 1
    assert counts[cast.classmate] >= 1
    assert counts[cast.teacher] == counts[cast.owner] + counts[cast.classmate]


def test_no_other_kind_is_written(cast: Cast, plan: CutPlan) -> None:
    assert signed_in(cast.teacher).get(f"/plans/{plan.pk}/plan.exe").status_code == 404


def test_the_plans_page_offers_its_files(cast: Cast, plan: CutPlan) -> None:
    for person in (cast.teacher, cast.owner):
        page = signed_in(person).get(reverse("plan", args=[plan.pk])).content.decode()
        assert reverse("plan_file", args=[plan.pk, "dxf"]) in page
