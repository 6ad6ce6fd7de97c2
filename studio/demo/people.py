"""The demo's school, teachers, course and class. All names are invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from classroom.models import Course, Incident, Role, School, Seat, Topic, User
from classroom.safety.incidents import write_down
from classroom.safety.permits import give_permit
from classroom.safety.questions import answer, new_sheet
from classroom.safety.topics import seed_topics

from .clock import on_day

SCHOOL = "Saltmarsh Harbour School"
PASSPHRASE = "tide-lantern-copper-27"
"""Everybody's in the demo, and printed on the screen: the demo only listens on this machine."""

STUDENTS = (
    "Anouk B", "Bram T", "Cerys D", "Dov L", "Esme K", "Falk R", "Greta O", "Hanno V",
    "Isla M", "Joss P", "Kaia S", "Lorn E", "Mio A", "Nell W", "Oona C", "Pim G",
    "Quill J", "Runa H", "Sorrel F", "Tarn I", "Una Z", "Vesna N", "Wick Y", "Yara U",
)  # fmt: skip


@dataclass
class People:
    school: School
    teacher: User
    second_teacher: User
    course: Course
    seats: list[Seat] = field(default_factory=list)

    def seat(self, first_name: str) -> Seat:
        return next(s for s in self.seats if s.student.display_name.startswith(first_name))


def make_people() -> People:
    """School, two teachers, one course of 24 students, permits for most of them."""
    with on_day(84):
        school = School.objects.create(
            name=SCHOOL,
            currency="CAD",
            units=School.Units.MILLIMETRES,
            paper=School.Paper.LETTER,
            time_zone="America/Halifax",
            local_rules=(
                "Room rules of Saltmarsh Harbour School: eye protection on before anything is "
                "sawn or drilled; no one works at the bench without a teacher in the room."
            ),
        )
        teacher = _person(school, "marit", "Marit Quay", Role.TEACHER, keeps_school=True)
        second = _person(school, "sten", "Sten Buoy", Role.TEACHER)
        seed_topics(school)
        today = dt.date.today()
        course = Course.objects.create(
            school=school,
            title="Jewellery metals 1",
            section="Period 3",
            term="This term",
            starts_on=today,
            ends_on=today + dt.timedelta(days=126),
        )
        course.teachers.add(teacher)
        people = People(school, teacher, second, course)
        for name in STUDENTS:
            first, initial = name.split()
            student = _person(school, f"{first}.{initial}".lower(), name, Role.STUDENT)
            people.seats.append(Seat.objects.create(course=course, student=student))
    _give_permits(people)
    _near_miss(people)
    return people


def _person(
    school: School, username: str, name: str, role: Role, *, keeps_school: bool = False
) -> User:
    return User.objects.create_user(
        username,
        PASSPHRASE,
        display_name=name,
        role=role,
        school=school,
        keeps_school=keeps_school,
    )


def _give_permits(people: People) -> None:
    """Everybody has most permits; a few lack one, so that the grid and the bench show it."""
    topics = list(Topic.objects.filter(school=people.school))
    with on_day(78, hour=11):
        for place, seat in enumerate(people.seats):
            for topic in topics:
                if topic.code == "drill-press" and place in {5, 13}:
                    continue
                if topic.code == "saw-frame" and place == 22:
                    continue
                pass_questions(seat.student, topic)
                give_permit(
                    seat.student,
                    topic,
                    acting=people.teacher,
                    remark="Lesson and practical check",
                )


def _near_miss(people: People) -> None:
    """One thing that nearly went wrong, and what was changed after it."""
    with on_day(40, hour=14) as moment:
        write_down(
            {
                "kind": Incident.Kind.NEAR_MISS,
                "happened_at": moment,
                "place": "Drill press by the window",
                "course": people.course,
                "topic": Topic.objects.get(school=people.school, code="drill-press"),
                "tool": "Chuck key",
                "what": "The key was still in the chuck when the press was switched on. It flew "
                "past the bench and hit the wall.",
                "told": "School office, second teacher",
                "changed": "A key that springs out by itself is in use now.",
            },
            seats=[],
            acting=people.teacher,
        )


def pass_questions(student: User, topic: Topic) -> None:
    """The student answers the topic's questions, all of them right."""
    sheet = new_sheet(student, topic, topic.language)
    right = {place: asked.right for place, asked in enumerate(sheet.questions)}
    answer(student, topic, sheet.token, right)
