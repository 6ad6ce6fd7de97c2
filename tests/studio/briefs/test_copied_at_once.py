"""Two who copy the same course's briefs at once copy them once."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.db import connection

from classroom.models import Course
from classroom.refusals import Refused
from studio.models import Brief
from studio.steps.briefs.copy import copy_briefs
from tests.people import Cast, make_cast


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.mark.django_db(transaction=True)
def test_of_6_who_copy_at_once_one_copies(cast: Cast) -> None:
    for number in range(3):
        Brief.objects.create(
            course=cast.course,
            title=f"Tag {number}",
            allowance=Decimal(5),
            created_by=cast.teacher,
        )
    spring = Course.objects.create(
        school=cast.school,
        title="Metals 1",
        term="Spring 2027",
        starts_on=cast.course.ends_on,
        ends_on=cast.course.ends_on,
    )
    start = threading.Barrier(6, timeout=60)

    def copy(_: int) -> int:
        try:
            start.wait()
            return len(copy_briefs(cast.course, spring, acting=cast.teacher))
        except Refused:
            return 0
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        assert sorted(pool.map(copy, range(6))) == [0, 0, 0, 0, 0, 3]
    assert Brief.objects.filter(course=spring).count() == 3
