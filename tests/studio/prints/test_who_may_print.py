"""Four people at every print: the course's teacher, the owner, a classmate, an outsider."""

from __future__ import annotations

import pytest
from django.urls import reverse

from studio.models import CutPlan, Pattern, Project
from tests.people import visit
from tests.studio.bench.making import World


@pytest.fixture
def owners(world: World) -> Project:
    project = world.project(world.cast.seat)
    world.issued(project)
    return project


@pytest.fixture
def shared(world: World) -> CutPlan:
    """One sheet with a piece of the owner's and one of the classmate's."""
    return world.issued(world.project(world.cast.seat), world.project(world.cast.classmate_seat))


def own_prints(project: Project) -> list[str]:
    pattern = Pattern.objects.get(project=project)
    return [
        reverse("pattern_sheet", args=[pattern.pk]),
        reverse("preparation_checklist", args=[project.pk]),
        reverse("safety_checklist", args=[project.pk]),
        reverse("bag_label", args=[project.pk]),
    ]


def test_owner_and_teacher_print_a_projects_papers(world: World, owners: Project) -> None:
    for address in own_prints(owners):
        for person in (world.cast.owner, world.cast.teacher):
            answer = visit(person, address)
            assert answer.status_code == 200, address
            assert "Wren T" in answer.content.decode()


def test_classmates_and_outsiders_find_no_such_papers(world: World, owners: Project) -> None:
    for address in own_prints(owners):
        for person in (
            world.cast.classmate,
            world.cast.other_teacher,
            world.cast.outsider,
            world.cast.outside_student,
        ):
            assert visit(person, address).status_code == 404, address


def test_a_plan_is_printed_only_by_those_whose_pieces_lie_on_it(
    world: World, owners: Project
) -> None:
    plan = CutPlan.objects.get()
    for name in ("placement_sheet", "cut_plan_print"):
        address = reverse(name, args=[plan.pk])
        assert visit(world.cast.owner, address).status_code == 200
        assert visit(world.cast.teacher, address).status_code == 200
        assert visit(world.cast.classmate, address).status_code == 404
        assert visit(world.cast.outsider, address).status_code == 404


def test_a_shared_plan_shows_a_student_no_other_name(world: World, shared: CutPlan) -> None:
    for name in ("placement_sheet", "cut_plan_print"):
        address = reverse(name, args=[shared.pk])
        page = visit(world.cast.owner, address).content.decode()
        assert "Wren T" in page
        assert "Odd F" not in page
        assert "another student" in page
        assert "Odd F" in visit(world.cast.teacher, address).content.decode()


def test_a_shared_plan_shows_a_student_only_the_own_price(world: World, shared: CutPlan) -> None:
    """Both pay the same here, so that the sum of both would give the other away."""
    own = shared.quotes.get(project__seat=world.cast.seat)
    both = sum(quote.total for quote in shared.quotes.all())
    address = reverse("cut_plan_print", args=[shared.pk])
    page = visit(world.cast.owner, address).content.decode()
    assert f"{own.total:.2f} USD" in page
    assert f"{both:.2f} USD" not in page
    assert f"{both:.2f} USD" in visit(world.cast.teacher, address).content.decode()


def test_class_lists_are_the_teachers(world: World, owners: Project) -> None:
    names = ("class_preparation_checklist", "class_safety_checklist", "review_print")
    for name in (*names, "class_bag_labels"):
        address = reverse(name, args=[world.cast.course.pk])
        assert visit(world.cast.teacher, address).status_code == 200
        assert visit(world.cast.owner, address).status_code == 403
        assert visit(world.cast.other_teacher, address).status_code == 404
        assert visit(world.cast.outsider, address).status_code == 404


def test_a_plan_that_is_not_placed_yet_says_so(world: World, owners: Project) -> None:
    plan = CutPlan.objects.get()
    CutPlan.objects.filter(pk=plan.pk).update(answer=None)
    answer = visit(world.cast.teacher, reverse("cut_plan_print", args=[plan.pk]))
    assert answer.status_code == 409
    assert "has not been placed" in answer.content.decode()


def test_a_measured_bar_that_cannot_be_is_refused_in_words(world: World, owners: Project) -> None:
    address = own_prints(owners)[0]
    for wrong in ("94e9", "nan", "80", "twelve", "-100", "1e400"):
        answer = visit(world.cast.owner, address, across=wrong)
        assert answer.status_code == 200
        assert 'role="alert"' in answer.content.decode(), wrong
    good = visit(world.cast.owner, address, across="99,4", up="100.2").content.decode()
    assert 'role="alert"' not in good
    assert "99.4" in good


def test_a_drafts_sheet_warns_that_it_is_a_draft(world: World) -> None:
    project = world.project(world.cast.seat)
    Pattern.objects.filter(project=project).update(state=Pattern.State.DRAFT)
    page = visit(world.cast.owner, own_prints(project)[0]).content.decode()
    assert "do not stick it on metal" in page


@pytest.mark.usefixtures("pango")
def test_page_and_pdf_come_from_one_template(world: World, owners: Project) -> None:
    for address in own_prints(owners):
        page = visit(world.cast.owner, address)
        assert "as=pdf" in page.content.decode()
        pdf = visit(world.cast.owner, address, **{"as": "pdf"})
        assert pdf["Content-Type"] == "application/pdf"
        assert pdf.content.startswith(b"%PDF-")
        assert "no-store" in pdf["Cache-Control"]


def test_titles_and_rules_that_look_like_markup_stay_text(world: World, owners: Project) -> None:
    Project.objects.filter(pk=owners.pk).update(title='<svg onload="x">&')
    school = world.cast.school
    school.local_rules = "<script>no()</script>"
    school.save()
    for address in own_prints(owners):
        page = visit(world.cast.owner, address).content.decode()
        assert "<script>no()" not in page
        assert "<svg onload" not in page
