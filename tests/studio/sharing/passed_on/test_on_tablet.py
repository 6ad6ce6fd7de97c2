"""Steps that are done once for all, on a bench tablet."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from time_machine import Traveller

from classroom.refusals import Refused
from studio.models import BenchTablet, StockSignOff, TabletDeed
from studio.steps.bench.tablet import open_tablet
from studio.steps.sharing.sticking import stick
from studio.steps.sharing.stock_steps import start
from studio.steps.sharing.tablet import sign_common_on_tablet
from tests.people import PASSPHRASE, signed_in

from .making import Passed, another_seat

pytestmark = pytest.mark.django_db


@pytest.fixture
def tablet(passed: Passed) -> BenchTablet:
    return open_tablet(passed.cast.course, acting=passed.cast.teacher)[0]


@pytest.fixture
def device(passed: Passed) -> Client:
    """A browser that the teacher has made a bench tablet."""
    client = signed_in(passed.cast.teacher)
    client.post(reverse("tablet_open", args=[passed.cast.course.pk]))
    return client


def page(device: Client, passed: Passed, number: int) -> str:
    seat = passed.projects[number].seat_id
    return str(device.get(reverse("tablet_seat", args=[seat])).content.decode())


def send(device: Client, passed: Passed, number: int, kind: str, what: str) -> Any:
    address = reverse("tablet_sign", args=[passed.projects[number].seat_id])
    data = {
        "step": passed.step(kind).pk,
        "common": "1",
        "what": what,
        "key": uuid.uuid4(),
        "passphrase": PASSPHRASE,
    }
    return device.post(address, data)


def test_a_tablet_shows_the_step_that_is_on_for_all(passed: Passed, device: Client) -> None:
    text = page(device, passed, 0)
    assert "once for all" in text
    assert "Prepare the metal" in text
    assert "Drill" not in text


def test_all_common_steps_are_signed_on_it(
    passed: Passed, device: Client, clock: Traveller
) -> None:
    send(device, passed, 0, "prepare", "start")
    send(device, passed, 1, "prepare", "done")
    send(device, passed, 0, "adhere", "start")
    assert "My papers are stuck on" in page(device, passed, 1)
    for number in (0, 1):
        send(device, passed, number, "adhere", "stuck")
    assert passed.step("adhere").done_at is not None
    assert TabletDeed.objects.filter(step=None).count() == 5


def test_another_class_mate_does_not_reach_it(passed: Passed, device: Client) -> None:
    seat = another_seat(passed.cast)
    data = {"step": passed.step("prepare").pk, "common": "1", "what": "start", "key": uuid.uuid4()}
    answer = device.post(reverse("tablet_sign", args=[seat.pk]), data | {"passphrase": PASSPHRASE})
    assert answer.status_code == 404


def test_one_form_sent_twice_is_one_deed(passed: Passed, tablet: BenchTablet) -> None:
    key = uuid.uuid4()
    for _ in range(2):
        sign_common_on_tablet(
            tablet, passed.step("prepare"), what="start", key=key, acting=passed.cast.owner
        )
    assert StockSignOff.objects.count() == 1
    with pytest.raises(Refused, match="used before"):
        sign_common_on_tablet(
            tablet, passed.step("prepare"), what="done", key=key, acting=passed.cast.owner
        )


def test_whose_papers_are_on_waits_for_the_others(
    passed: Passed, device: Client, clock: Traveller
) -> None:
    passed.do("prepare", clock)
    start(passed.step("adhere"), acting=passed.cast.owner)
    stick(passed.step("adhere"), passed.share(0), acting=passed.cast.owner)
    text = page(device, passed, 0)
    assert "Your papers are on" in text
    assert "Your passphrase" not in text


def test_who_waits_for_the_metal_reads_who_has_it(
    passed: Passed, device: Client, clock: Traveller
) -> None:
    passed.dry(clock)
    text = page(device, passed, 1)
    assert "Student A has" in text
    assert str(passed.cast.owner) not in text
    assert "Your passphrase" not in text
