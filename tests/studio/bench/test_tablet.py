"""A bench tablet: who opens it, what it opens and what not, and one sign-off for each form."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django.fixtures import DjangoAssertNumQueries
from time_machine import Traveller

from classroom.models import Course, History, Seat
from classroom.refusals import Refused
from classroom.signin import ONE_GUESSER
from studio.models import BenchTablet, Project, SignOff, TabletDeed
from studio.steps.bench.sign import send_back, start_step
from studio.steps.bench.tablet import close_tablet, open_tablet, sign_on_tablet
from tests.people import PASSPHRASE, signed_in

from .making import World, do_steps, give_permits, step_of

JSON = {"Accept": "application/json"}


@pytest.fixture
def device(world: World) -> Client:
    """A device that the teacher has made a bench tablet."""
    client = signed_in(world.cast.teacher)
    client.post(reverse("tablet_open", args=[world.cast.course.pk]))
    return client


def form_of(device: Client, seat: Seat) -> dict[str, str]:
    """What the page's form sends, but for the passphrase."""
    page = device.get(reverse("tablet_seat", args=[seat.pk])).content.decode()
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', page))
    return {name: fields[name] for name in ("step", "what", "key")}


def send(
    device: Client, seat: Seat, form: dict[str, str], passphrase: str = PASSPHRASE, **more: Any
) -> Any:
    url = reverse("tablet_sign", args=[seat.pk])
    return device.post(url, form | {"passphrase": passphrase}, **more)


def test_who_may_open_one(world: World) -> None:
    cast = world.cast
    url = reverse("tablet_open", args=[cast.course.pk])
    people = (cast.teacher, cast.owner, cast.other_teacher, cast.outsider)
    assert [signed_in(p).post(url).status_code for p in people] == [302, 403, 404, 404]
    assert signed_in(cast.teacher).get(url).status_code == 405
    assert BenchTablet.objects.count() == 1


def test_who_may_close_one(world: World, device: Client) -> None:
    cast = world.cast
    url = reverse("tablet_close", args=[BenchTablet.objects.get().pk])
    people = (cast.owner, cast.other_teacher, cast.outsider, cast.teacher)
    assert [signed_in(p).post(url).status_code for p in people] == [403, 404, 404, 302]


def test_the_teacher_is_signed_out_on_it_and_it_opens_nothing_else(
    world: World, project: Project, device: Client
) -> None:
    assert "_auth_user_id" not in device.session
    assert device.get(reverse("tablet")).status_code == 200
    cookie = device.cookies["bench_tablet"]
    assert (cookie["path"], cookie["httponly"], cookie["samesite"]) == ("/tablet/", True, "Strict")
    for name, number in (
        ("class_bench", world.cast.course.pk),
        ("bench", project.pk),
        ("project", project.pk),
        ("class_list", world.cast.course.pk),
    ):
        answer = device.get(reverse(name, args=[number]))
        assert answer.status_code == 302, name
        assert answer["Location"].startswith("/sign-in/")
    step = step_of(project, "prepare")
    answer = device.post(reverse("step_start", args=[step.pk]))
    assert answer["Location"].startswith("/sign-in/")
    assert step_of(project, "prepare").started_at is None


def test_the_secret_itself_is_kept_nowhere(world: World) -> None:
    _, secret = open_tablet(world.cast.course, acting=world.cast.teacher)
    assert secret not in str(BenchTablet.objects.values())
    assert secret not in str(History.objects.values())


def test_two_students_sign_one_after_the_other_and_nobody_stays_signed_in(
    world: World, device: Client
) -> None:
    cast = world.cast
    pair = [world.project(cast.seat), world.project(cast.classmate_seat)]
    world.issued(*pair)
    for one in pair:
        give_permits(cast, one.student)
    for one in pair:
        answer = send(device, one.seat, form_of(device, one.seat), follow=True)
        assert answer.redirect_chain == [("/tablet/", 302)]
        assert f"{one.student}: “Prepare the metal” is started." in answer.content.decode()
        assert "_auth_user_id" not in device.session
        send(device, one.seat, form_of(device, one.seat))
        step = step_of(one, "prepare")
        assert step.done_at is not None
        signed = step.sign_offs.values_list("kind", "by", "wording_sha")
        student = one.student.pk
        assert list(signed) == [
            ("started", student, step.wording_sha),
            ("done", student, step.wording_sha),
        ]


def test_the_tablet_shows_where_to_rub_and_in_which_order_to_saw(
    world: World, project: Project, device: Client, clock: Traveller
) -> None:
    def page() -> str:
        url = reverse("tablet_seat", args=[world.cast.seat.pk])
        return str(device.get(url).content.decode())

    assert "Rub only the filled area" in page()
    do_steps(project, "drill", clock, world.cast)
    assert "Your holes and lines" in page()
    do_steps(project, "saw", clock, world.cast)
    shown = page()
    assert "Your order of sawing" in shown
    assert "thread the blade through its pilot hole" in shown
    assert "Rub only" not in shown


def test_the_waiting_time_is_told_and_kept(
    world: World, project: Project, device: Client, clock: Traveller
) -> None:
    do_steps(project, "dry", clock, world.cast)
    seat = world.cast.seat
    answer = send(device, seat, form_of(device, seat), follow=True)
    assert "It can be signed from 10:20" in answer.content.decode()
    page = device.get(reverse("tablet_seat", args=[seat.pk])).content.decode()
    assert "May be signed from 10:20" in page
    assert "<form" not in page.split("<main")[1]
    form = {"step": str(step_of(project, "dry").pk), "what": "done", "key": str(uuid.uuid4())}
    answer = send(device, seat, form)
    assert answer.status_code == 409
    assert "needs its time" in answer.content.decode()
    clock.shift(dt.timedelta(minutes=20))
    assert send(device, seat, form).status_code == 302  # a refused form's key is free again
    assert step_of(project, "dry").student_signed_at is not None


def test_a_double_tap_is_one_sign_off(project: Project, world: World, device: Client) -> None:
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    form = form_of(device, world.cast.seat)
    answers = [send(device, world.cast.seat, form) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [302, 302, 302]
    assert SignOff.objects.filter(kind="done").count() == 1
    assert TabletDeed.objects.count() == 1


def test_a_form_whose_answer_was_lost_never_signs_work_that_was_sent_back_since(
    project: Project, world: World, device: Client
) -> None:
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    form = form_of(device, world.cast.seat)
    assert send(device, world.cast.seat, form, headers=JSON).json() == {"go": "/tablet/"}
    send_back(step_of(project, "prepare"), acting=world.cast.teacher, reason="dark spots")
    start_step(step_of(project, "prepare"), acting=world.cast.owner)
    assert send(device, world.cast.seat, form, headers=JSON).json() == {"go": "/tablet/"}
    assert step_of(project, "prepare").student_signed_at is None
    assert SignOff.objects.filter(kind="done").count() == 1


def test_a_key_does_one_thing_only(project: Project, world: World, device: Client) -> None:
    form = form_of(device, world.cast.seat)
    send(device, world.cast.seat, form)
    answer = send(device, world.cast.seat, form | {"what": "done"})
    assert answer.status_code == 409
    assert "was used before" in answer.content.decode()
    assert step_of(project, "prepare").student_signed_at is None


@pytest.mark.parametrize("passphrase", ["", "wrong-words-10", "x" * 201])
def test_without_the_passphrase_nothing_is_signed(
    project: Project, world: World, device: Client, passphrase: str
) -> None:
    answer = send(device, world.cast.seat, form_of(device, world.cast.seat), passphrase)
    assert answer.status_code == 422
    assert "does not go with this name" in answer.content.decode()
    assert not SignOff.objects.exists()


def test_a_classmates_passphrase_signs_nothing(
    project: Project, world: World, device: Client
) -> None:
    world.cast.classmate.set_password("another-brass-boat-17")
    world.cast.classmate.save()
    form = form_of(device, world.cast.seat)
    assert send(device, world.cast.seat, form, "another-brass-boat-17").status_code == 422
    assert send(device, world.cast.seat, form).status_code == 302


def test_guessing_pauses_one_student_and_nobody_else(
    project: Project, world: World, device: Client
) -> None:
    form = form_of(device, world.cast.seat)
    for _ in range(ONE_GUESSER.free):
        send(device, world.cast.seat, form, "wrong-words-10")
    answer = send(device, world.cast.seat, form, headers=JSON)
    assert answer.status_code == 429
    assert "too many tries" in answer.json()["text"]
    assert "Wait 1 second and" in answer.json()["text"]
    assert not SignOff.objects.exists()
    other = send(device, world.cast.classmate_seat, form)  # the passphrase is not even reached
    assert other.status_code == 404
    # sign-in counts the same tries
    assert (
        b"paused"
        in Client().post("/sign-in/", {"username": "wren.t", "password": PASSPHRASE}).content
    )


def test_guesses_at_sign_in_do_not_hold_up_a_signature_on_the_tablet(
    project: Project, world: World, device: Client
) -> None:
    elsewhere = Client()
    for _ in range(ONE_GUESSER.free + 1):
        guess = {"username": "wren.t", "password": "wrong-words-10"}
        paused = elsewhere.post("/sign-in/", guess).status_code
    assert paused == 429
    form = form_of(device, world.cast.seat)
    assert send(device, world.cast.seat, form).status_code == 302


def test_a_few_slips_are_forgotten_once_the_passphrase_was_right(
    project: Project, world: World, device: Client
) -> None:
    for _ in range(3):
        for _ in range(ONE_GUESSER.free - 2):
            send(device, world.cast.seat, form_of(device, world.cast.seat), "wrong-words-10")
        form = form_of(device, world.cast.seat) | {"what": "start"}
        assert send(device, world.cast.seat, form).status_code == 302


def test_what_is_missing_is_told_after_the_passphrase_and_not_before(
    world: World, device: Client
) -> None:
    world.at_bench()
    seat = world.cast.seat
    for page in (reverse("tablet"), reverse("tablet_seat", args=[seat.pk])):
        text = device.get(page).content.decode()
        assert "See your teacher" in text
        assert "bench permit" not in text
    answer = send(device, seat, form_of(device, seat))
    assert answer.status_code == 409
    assert "needs the bench permit" in answer.content.decode()


def test_a_tablet_is_over_at_midnight_of_the_school(
    project: Project, world: World, device: Client, clock: Traveller
) -> None:
    form = form_of(device, world.cast.seat)
    clock.move_to(dt.datetime(2026, 11, 26, 3, 59, 59, tzinfo=dt.UTC))  # 23:59:59 in Halifax
    assert device.get("/tablet/").status_code == 200
    token = device.cookies["bench_tablet"].value
    clock.shift(dt.timedelta(seconds=1))
    device.cookies["bench_tablet"] = token  # a device that keeps what it should forget
    assert device.get("/tablet/").status_code == 403
    device.cookies["bench_tablet"] = token
    assert send(device, world.cast.seat, form).status_code == 403
    assert not SignOff.objects.exists()


def test_a_closed_tablet_is_refused_at_once(project: Project, world: World, device: Client) -> None:
    form = form_of(device, world.cast.seat)
    token = device.cookies["bench_tablet"].value
    tablet = BenchTablet.objects.get()
    close_tablet(tablet, acting=world.cast.teacher)
    close_tablet(tablet, acting=world.cast.teacher)
    assert History.objects.filter(verb="tablet-closed").count() == 1
    answer = send(device, world.cast.seat, form, headers=JSON)
    assert answer.status_code == 403
    assert "not a bench tablet now" in answer.json()["text"]
    device.cookies["bench_tablet"] = token
    answer = device.get("/tablet/", headers={"HX-Request": "true"})
    assert answer["HX-Refresh"] == "true"
    with pytest.raises(Refused, match="has been closed"):
        sign_on_tablet(
            tablet,
            step_of(project, "prepare"),
            what="start",
            key=uuid.uuid4(),
            acting=world.cast.owner,
        )
    assert not SignOff.objects.exists()


@pytest.mark.parametrize(
    "spoil",
    [
        lambda token: token[:-1] + ("A" if token[-1] != "A" else "B"),
        lambda token: "",
        lambda token: "1:secret",
        lambda token: "9" * 400,
    ],
)
def test_a_forged_token_opens_nothing(device: Client, spoil: Any, world: World) -> None:
    device.cookies["bench_tablet"] = spoil(device.cookies["bench_tablet"].value)
    assert device.get("/tablet/").status_code == 403


def test_a_tablet_knows_its_own_course_only(project: Project, world: World, device: Client) -> None:
    cast = world.cast
    other = Course.objects.create(
        school=cast.school,
        title="Metals 2",
        term="Autumn 2026",
        starts_on=cast.course.starts_on,
        ends_on=cast.course.ends_on,
    )
    elsewhere = Course.objects.create(
        school=cast.outsider.school,
        title="Metals 1",
        term="Autumn 2026",
        starts_on=cast.course.starts_on,
        ends_on=cast.course.ends_on,
    )
    seats = [
        Seat.objects.create(course=other, student=cast.owner),
        Seat.objects.create(course=elsewhere, student=cast.outside_student),
    ]
    form = form_of(device, cast.seat)
    for seat in seats:
        assert device.get(reverse("tablet_seat", args=[seat.pk])).status_code == 404
        assert send(device, seat, form).status_code == 404
    # the classmate's own name does not reach the owner's step
    assert send(device, cast.classmate_seat, form).status_code == 404
    assert cast.outside_student.display_name not in device.get("/tablet/").content.decode()
    assert not SignOff.objects.exists()


def test_who_has_left_is_not_on_it(project: Project, world: World, device: Client) -> None:
    form = form_of(device, world.cast.seat)
    Seat.objects.filter(pk=world.cast.seat.pk).update(left_at=dt.datetime.now(tz=dt.UTC))
    assert "Wren T" not in device.get("/tablet/").content.decode()
    assert send(device, world.cast.seat, form).status_code == 404


def test_a_closed_course_closes_its_tablets(world: World, device: Client) -> None:
    Course.objects.filter(pk=world.cast.course.pk).update(closed_at=dt.datetime.now(tz=dt.UTC))
    assert device.get("/tablet/").status_code == 403
    world.cast.course.refresh_from_db()
    with pytest.raises(Refused, match="closed"):
        open_tablet(world.cast.course, acting=world.cast.teacher)


@pytest.mark.parametrize(
    "spoil", [{"key": "nonsense"}, {"step": "x"}, {"what": "check"}, {"what": ""}, {"step": ""}]
)
def test_a_form_with_nonsense_is_refused_in_words(
    project: Project, world: World, device: Client, spoil: dict[str, str]
) -> None:
    answer = send(device, world.cast.seat, form_of(device, world.cast.seat) | spoil)
    assert answer.status_code == 400
    assert "Something is missing" in answer.content.decode()
    assert not SignOff.objects.exists()


def test_the_list_asks_the_same_number_of_questions_for_any_class(
    world: World, device: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    owner = world.project(world.cast.seat)
    world.issued(owner)
    with CaptureQueriesContext(connection) as one:
        device.get("/tablet/")
    world.issued(world.project(world.cast.classmate_seat), sheets=world.sheets[1:2])
    with django_assert_num_queries(len(one)):
        device.get("/tablet/")


def test_the_class_bench_lists_the_tablets_that_are_open(
    world: World, project: Project, device: Client
) -> None:
    url = reverse("class_bench", args=[world.cast.course.pk])
    page = signed_in(world.cast.teacher).get(url).content.decode()
    assert "Opened at 10:00 by Marit Quay, not used yet" in page
    send(device, world.cast.seat, form_of(device, world.cast.seat))
    assert "last used at 10:00" in signed_in(world.cast.teacher).get(url).content.decode()
    close_tablet(BenchTablet.objects.get(), acting=world.cast.teacher)
    assert "Opened at 10:00" not in signed_in(world.cast.teacher).get(url).content.decode()
