"""The people of every test: one school with a teacher and two students, and an outsider school.

Permission tests ask four people: `teacher` (of the course), `owner` (the student whose thing
it is), `classmate`, and `outsider` (a teacher elsewhere).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.hashers import make_password
from django.test import Client

from classroom.models import Course, Role, School, Seat, User

PASSPHRASE = "brass-lantern-42-tide"


@dataclass
class Cast:
    school: School
    teacher: User
    owner: User
    classmate: User
    other_teacher: User
    outsider: User
    outside_student: User
    course: Course
    seat: Seat
    classmate_seat: Seat


def make_cast() -> Cast:
    school = School.objects.create(
        name="Saltmarsh Harbour School", currency="USD", time_zone="America/Halifax"
    )
    elsewhere = School.objects.create(name="Upriver School")

    password = make_password(PASSPHRASE)  # one for all: thousands of tests make these six

    def person(name: str, role: Role, home: School = school, **more: Any) -> User:
        username = name.lower().replace(" ", ".")
        one = User(username=username, display_name=name, role=role, school=home, **more)
        one.password = password
        one.save()
        return one

    teacher = person("Marit Quay", Role.TEACHER, keeps_school=True)
    owner = person("Wren T", Role.STUDENT)
    classmate = person("Odd F", Role.STUDENT)
    course = Course.objects.create(
        school=school,
        title="Metals 1",
        section="B",
        term="Autumn 2026",
        starts_on=dt.date(2026, 9, 1),
        ends_on=dt.date(2027, 1, 29),
    )
    course.teachers.add(teacher)
    return Cast(
        school=school,
        teacher=teacher,
        owner=owner,
        classmate=classmate,
        other_teacher=person("Sten Buoy", Role.TEACHER),
        outsider=person("Ines Weir", Role.TEACHER, elsewhere, keeps_school=True),
        outside_student=person("Ola Lock", Role.STUDENT, elsewhere),
        course=course,
        seat=Seat.objects.create(course=course, student=owner),
        classmate_seat=Seat.objects.create(course=course, student=classmate),
    )


def signed_in(person: User) -> Client:
    """A browser in which this person is signed in."""
    client = Client()
    client.force_login(person, backend="classroom.signin.PassphraseBackend")
    return client


def is_in(client: Client) -> bool:
    """Is anybody signed in, in this browser?"""
    return "_auth_user_id" in client.session


def visit(person: User, address: str, **query: str) -> Any:
    """What this person is answered at an address."""
    return signed_in(person).get(address, query)
