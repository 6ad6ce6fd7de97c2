"""Bench work in Spanish: no page, print, answer or refusal has English left in it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from time_machine import Traveller

from classroom.models import School, Topic, User
from studio.models import BenchTablet, Project
from studio.steps.bench.sign import override_step, send_back, sign_done, start_step
from studio.steps.bench.tablet import open_tablet
from studio.views.bench.tablet_door import COOKIE, SALT
from tests.people import signed_in
from tests.studio.bench.making import World, do_steps, give_permits, step_of

from .leftovers import english_in, texts_of


def own_words(world: World) -> list[str]:
    """What the school itself wrote: names and titles."""
    cast = world.cast
    people = User.objects.filter(school=cast.school).values_list("display_name", flat=True)
    titles = Project.objects.values_list("title", flat=True)
    return [*people, *titles, cast.school.name, str(cast.course), cast.course.term, "Key tag"]


def check(page: str, world: World, where: str) -> None:
    left = list(english_in(page, own_words(world)))
    assert not left, f"{where}: {left[:12]}"


def in_spanish(person: User, url: str, world: World) -> str:
    answer: Any = signed_in(person).get(f"{url}?lang=es")
    assert answer.status_code == 200, url
    page = answer.content.decode()
    check(page, world, url)
    return page


def addresses(world: World, project: Project) -> list[tuple[User, str]]:
    cast = world.cast
    course, seat = cast.course.pk, cast.seat.pk
    topic = Topic.objects.get(school=cast.school, code="saw-frame").pk
    teachers = [
        ("class_bench", course),
        ("class_preparation_checklist", course),
        ("class_safety_checklist", course),
        ("class_bag_labels", course),
        ("permit_cards", course),
        ("permit_status", course),
        ("guardian_print", course),
    ]
    everybodys = [
        ("bench", project.pk),
        ("preparation_checklist", project.pk),
        ("safety_checklist", project.pk),
        ("bag_label", project.pk),
        ("student_record", seat),
        ("topic", topic),
        ("topic_sheet", topic),
    ]
    found = [(cast.teacher, reverse(name, args=[pk])) for name, pk in teachers + everybodys]
    found += [(cast.owner, reverse(name, args=[pk])) for name, pk in everybodys]
    both = [reverse("topics"), reverse("topic_sheets"), reverse("substances")]
    found += [(cast.teacher, url) for url in both[:2]]
    found += [
        (cast.owner, reverse("topics")),
        (cast.owner, reverse("topic_questions", args=[topic])),
    ]
    return found


def test_pages_and_prints_have_no_english_before_the_metal_is_out(world: World) -> None:
    project = world.project(world.cast.seat)
    for person, url in addresses(world, project):
        in_spanish(person, url, world)


@pytest.mark.parametrize("code", ["C26000", "C75200", "A91100", "AG925", "C36000"])
def test_the_words_of_every_kind_of_metal_are_spanish(world: World, code: str) -> None:
    world.metal.alloy_code = code
    world.metal.save()
    project = world.project(world.cast.seat)
    in_spanish(world.cast.owner, reverse("preparation_checklist", args=[project.pk]), world)


def test_the_bench_has_no_english_in_any_state_of_a_step(world: World, clock: Traveller) -> None:
    cast = world.cast
    project = world.at_bench()

    def look() -> None:
        for person in (cast.owner, cast.teacher):
            in_spanish(person, reverse("bench", args=[project.pk]), world)
        in_spanish(cast.teacher, reverse("class_bench", args=[cast.course.pk]), world)

    look()  # no permit: stopped
    give_permits(cast, cast.owner)
    look()
    for kind in ("prepare", "adhere", "dry", "drill", "saw", "remove", "finish"):
        start_step(step_of(project, kind), acting=cast.owner)
        look()  # at work, or waiting
        clock.shift(60 * 60)
        look()
        sign_done(step_of(project, kind), acting=cast.owner)
        look()
        if step_of(project, kind).teacher_signs:
            send_back(step_of(project, kind), acting=cast.teacher, reason="…")
            look()
            override_step(step_of(project, kind), acting=cast.teacher, reason="…", mark_done=True)
    look()  # made
    for person, url in addresses(world, project):
        in_spanish(person, url, world)


def test_the_papers_of_a_plan_have_no_english(world: World) -> None:
    cast = world.cast
    project = world.at_bench()
    pattern, plan = project.patterns.get().pk, project.plan_shares.get().plan_id
    for person in (cast.owner, cast.teacher):
        for name, pk in (
            ("pattern_sheet", pattern),
            ("placement_sheet", plan),
            ("cut_plan_print", plan),
        ):
            in_spanish(person, reverse(name, args=[pk]), world)


def test_a_drawings_numbers_keep_their_points(world: World) -> None:
    """A comma would end a number there: a drawing is the same in every language."""
    project = world.at_bench()
    plan = project.plan_shares.get().plan_id
    client = signed_in(world.cast.teacher)
    for name, pk in (
        ("pattern_sheet", project.patterns.get().pk),
        ("placement_sheet", plan),
        ("cut_plan_print", plan),
        ("bench", project.pk),
    ):
        pages = [
            client.get(f"{reverse(name, args=[pk])}?lang={one}").content.decode()
            for one in ("en", "es")
        ]
        english, spanish = (
            re.findall(r' (?:d|x|y|viewBox|width|transform)="([^"]+)"', one) for one in pages
        )
        assert len(english) == len(spanish), name
        assert not [one for one in spanish if re.search(r"\d,\d", one)], name
        assert len(english) > 20


def test_a_topics_questions_and_their_answers_have_no_english(world: World) -> None:
    cast = world.cast
    topic = Topic.objects.get(school=cast.school, code="saw-frame")
    client = signed_in(cast.owner)
    url = reverse("topic_questions", args=[topic.pk])
    page = client.get(f"{url}?lang=es").content.decode()
    sheet = re.search(r'name="sheet" value="([^"]+)"', page)
    assert sheet
    names = sorted(set(re.findall(r'name="(q?_?\w*\d+)"', page)))
    data = {"sheet": sheet[1], "lang": "es"} | dict.fromkeys(names, "0")
    answer: Any = client.post(f"{url}?lang=es", data, follow=True)
    check(answer.content.decode(), world, "attempt")


def tablet_client(world: World) -> Client:
    tablet, secret = open_tablet(world.cast.course, acting=world.cast.teacher)
    from django.core.signing import get_cookie_signer

    client = Client()
    client.cookies[COOKIE] = get_cookie_signer(salt=COOKIE + SALT).sign(f"{tablet.pk}:{secret}")
    return client


def test_the_bench_tablet_has_no_english(world: World, clock: Traveller) -> None:
    cast = world.cast
    project = world.at_bench()
    give_permits(cast, cast.owner)
    client = tablet_client(world)
    seat_url = reverse("tablet_seat", args=[cast.seat.pk])

    def look() -> str:
        for url in (reverse("tablet"), seat_url):
            page = client.get(f"{url}?lang=es").content.decode()
            check(page, world, url)
        return page

    look()
    page = look()
    key = re.search(r'name="key" value="([^"]+)"', page)
    assert key
    data = {
        "step": step_of(project, "prepare").pk,
        "what": "start",
        "key": key[1],
        "lang": "es",
        "passphrase": "wrong one",
    }
    sign_url = reverse("tablet_sign", args=[cast.seat.pk])
    answer = client.post(sign_url, data)
    assert answer.status_code == 422
    check(answer.content.decode(), world, "wrong passphrase")
    do_steps(project, "dry", clock, cast)
    start_step(step_of(project, "dry"), acting=cast.owner)
    look()
    clock.shift(60 * 60)
    look()
    sign_done(step_of(project, "dry"), acting=cast.owner)
    look()
    BenchTablet.objects.update(closed_at="2026-11-25T00:00Z", closed_by=cast.teacher)


def test_refusals_come_in_the_language_of_the_page(world: World, clock: Traveller) -> None:
    cast = world.cast
    project = world.at_bench()
    client = signed_in(cast.owner)
    json = {"headers": {"Accept": "application/json"}}

    def post(kind: str, name: str) -> str:
        step = step_of(project, kind)
        answer: Any = client.post(reverse(name, args=[step.pk]), {"lang": "es"}, **json)
        assert answer.status_code == 409
        text = str(answer.json()["text"])
        check(f'<p lang="es">{text}</p>', world, name)
        return text

    assert "Papel de lija y polvo de metal" in post("prepare", "step_start")  # no permit
    give_permits(cast, cast.owner)
    assert "Prepara el metal" in post("saw", "step_start")  # out of order
    post("prepare", "step_done")  # not started
    do_steps(project, "dry", clock, cast)
    start_step(step_of(project, "dry"), acting=cast.owner)
    assert "se puede firmar desde las" in post("dry", "step_done")  # before its time


def test_a_refusal_on_a_page_of_its_own_is_spanish_all_over(world: World) -> None:
    step = step_of(world.at_bench(), "prepare")  # no permit yet
    client = signed_in(world.cast.owner)
    answer: Any = client.post(reverse("step_start", args=[step.pk]), {"lang": "es"})
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "No se ha hecho" in page
    check(page, world, "refusal")


def test_a_students_choice_is_kept_until_the_sign_out_and_a_teachers_is_not(world: World) -> None:
    cast = world.cast
    url = reverse("bench", args=[world.at_bench().pk])
    for person, kept in ((cast.owner, True), (cast.teacher, False)):
        client = signed_in(person)
        assert "Prepara el metal" in client.get(f"{url}?lang=es").content.decode()
        assert ("Prepara el metal" in client.get(url).content.decode()) is kept
        client.post(reverse("sign_out"))
        client.force_login(person, backend="classroom.signin.PassphraseBackend")
        assert "Prepare the metal" in client.get(url).content.decode()


def test_a_schools_language_is_the_benchs_language(world: World) -> None:
    School.objects.update(language="es")
    url = reverse("bench", args=[world.at_bench().pk])
    assert "Prepara el metal" in signed_in(world.cast.owner).get(url).content.decode()


def test_what_is_signed_is_the_wording_that_was_shown(world: World, clock: Traveller) -> None:
    cast = world.cast
    project = world.at_bench()
    give_permits(cast, cast.owner)
    client = signed_in(cast.owner)
    step = step_of(project, "prepare")
    client.post(reverse("step_start", args=[step.pk]), {"lang": "es"})
    clock.shift(60)
    client.post(reverse("step_done", args=[step.pk]), {"lang": "en"})
    started, done = step.sign_offs.all()
    assert started.wording_sha == step.sha_in("es") != step.wording_sha == done.wording_sha
    assert step.language_of(started.wording_sha) == "es"
    assert step.language_of(done.wording_sha) == "en"
    assert step.words_in("es")["title"] == "Prepara el metal"


def test_a_schools_own_words_are_marked_as_what_they_are(world: World) -> None:
    from studio.core.bench.texts import BenchStepKind, Mistake
    from studio.steps.bench.wording import reword

    reword(
        world.cast.school,
        BenchStepKind.PREPARE,
        do=("Rub it as we always do.",),
        right_when=("It is right.",),
        mistakes=(Mistake("It is not", "Why", "Do it again"),),
        seen=0,
        acting=world.cast.teacher,
    )
    page = in_spanish(
        world.cast.owner, reverse("bench", args=[world.at_bench().pk]), world
    )  # marked lang="en", so not taken for a leftover
    assert "Rub it as we always do." in page
    assert "Rub it as we always do." not in texts_of(page)


def test_the_finder_of_leftovers_finds_them(world: World) -> None:
    page = '<html lang="es"><p>Later</p><p lang="en">Of the</p><img alt="the saw"><p>Sierra</p>'
    assert list(english_in(page, [])) == ["Later", "the saw"]


def test_a_student_reads_the_plan_in_spanish_and_the_teacher_decides_in_english(
    world: World,
) -> None:
    first, other = world.project(world.cast.seat), world.project(world.cast.classmate_seat)
    plan = world.issued(first, other)
    page = in_spanish(world.cast.owner, reverse("plan", args=[plan.pk]), world)
    assert "Corte que suelta un recorte de los restos" in page
    answer: Any = signed_in(world.cast.teacher).get(reverse("plan", args=[plan.pk]) + "?lang=es")
    assert "What happened" in answer.content.decode()
    assert "Vuelve al estante" not in answer.content.decode()
