"""Two who copy the same course's briefs at once copy them once."""

from __future__ import annotations

from decimal import Decimal

import pytest

from classroom.models import Course
from classroom.refusals import Refused
from studio.models import Brief
from studio.steps.briefs.copy import copy_briefs
from tests.at_once import done_or_refused
from tests.people import Cast


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
    copies = done_or_refused(
        *[lambda: len(copy_briefs(cast.course, spring, acting=cast.teacher))] * 6
    )
    assert sorted(0 if isinstance(one, Refused) else one for one in copies) == [0, 0, 0, 0, 0, 3]
    assert Brief.objects.filter(course=spring).count() == 3
