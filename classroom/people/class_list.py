"""What a list of names would change in a course, and changing it: students come and go.

`look_at` says for each line what can be done and what would be done; `add_students` does what
the teacher chose. The teacher always sees the first before the second.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.utils import timezone

from classroom.erased import refuse_when_erased
from classroom.models import Course, Role, Seat, User, record
from classroom.queries import students_for
from classroom.refusals import Refused

from .courses import refuse_when_closed
from .roster import STUDENTS_MOST, RosterLine
from .user_names import free_user_names

LEAVE_OUT = "out"
NEW = "new"


@dataclass(frozen=True, slots=True)
class Intention:
    """One line of the list with what may be done about it; the first option is proposed."""

    line: RosterLine
    kind: str
    word: str
    options: tuple[tuple[str, str], ...]

    @property
    def field(self) -> str:
        return f"do-{self.line.number}"

    @property
    def proposed(self) -> str:
        return self.options[0][0]


class ListHasChanged(Refused):
    """Somebody changed the class list since the preview was made."""


def look_at(course: Course, lines: Iterable[RosterLine], *, acting: User) -> list[Intention]:
    """What each line would do to the course; a fixed number of queries."""
    wanted = list(lines)
    ids = {line.roster_id for line in wanted} - {""}
    by_id = {
        person.roster_id: person
        for person in User.objects.filter(school=course.school, roster_id__in=ids)
    }
    by_name: dict[tuple[str, ...], list[User]] = {}
    for person in students_for(acting).order_by("pk"):
        by_name.setdefault(_name_key(person.display_name), []).append(person)
    seats = {seat.student_id: seat for seat in course.seats.all()}
    seen: dict[str, int] = {}
    intentions = []
    for line in wanted:
        known = by_id.get(line.roster_id) if line.roster_id else None
        if known is not None:
            intentions.append(_known_by_id(line, known, seats.get(known.pk)))
        else:
            alike = _alike(line.name, by_name.get(_name_key(line.name), []))
            if line.roster_id:
                alike = [person for person in alike if not person.roster_id]
            intentions.append(_by_name(line, alike[:3], seats, seen.get(line.name.casefold())))
        seen.setdefault(line.name.casefold(), line.number)
    return intentions


def digest_of(intentions: Sequence[Intention]) -> str:
    """A mark of what was shown, to notice that the class list changed meanwhile."""
    shown = repr([(one.line.number, one.options) for one in intentions])
    return hashlib.sha256(shown.encode()).hexdigest()[:32]


def add_students(
    course: Course,
    lines: Iterable[RosterLine],
    choices: Mapping[str, str],
    *,
    seen: str,
    acting: User,
) -> list[User]:
    """Do what was chosen for each line (`choices` by field name); returns who came or came back.

    Raises ListHasChanged when the class list is no longer the one the teacher looked at (which
    also makes a second click harmless), Refused when the course is closed or full.
    """
    wanted = list(lines)
    try:
        with transaction.atomic():
            # On PostgreSQL holds up a second click until the first is done; SQLite's
            # transactions stand in line anyway.
            course = Course.objects.select_for_update().get(pk=course.pk)
            refuse_when_closed(course)
            intentions = look_at(course, wanted, acting=acting)
            if digest_of(intentions) != seen:
                raise ListHasChanged(
                    "The class list has changed since you looked. Check the lines once more."
                )
            came = _carry_out(course, intentions, choices)
            if course.seats.taken().count() > STUDENTS_MOST:
                raise Refused(f"A course takes up to {STUDENTS_MOST} students.")
            if came:
                count = "1 student" if len(came) == 1 else f"{len(came)} students"
                record(
                    acting,
                    "add-students",
                    course,
                    f"{count} added to {course}",
                    students=[person.pk for person in came],
                )
    except IntegrityError as error:
        raise ListHasChanged(
            "Somebody else was adding people at the same moment. Check the lines once more."
        ) from error
    return came


def _name_key(name: str) -> tuple[str, ...]:
    """Equal for names that may be the same person's: “Wren T”, “Wren Ti”, “Wren Tidewell”."""
    *given, last = name.casefold().split() or [""]
    return (*given, last[:1]) if given else (last,)


def _alike(name: str, people: Sequence[User]) -> list[User]:
    """Those whose name is the same or its beginning, or begins with it; the same one first."""
    wanted = name.casefold()
    names = [(one.display_name.casefold(), one) for one in people]
    return [one for known, one in names if known == wanted] + [
        one
        for known, one in names
        if known != wanted and (known.startswith(wanted) or wanted.startswith(known))
    ]


def _known_by_id(line: RosterLine, person: User, seat: Seat | None) -> Intention:
    if person.role != Role.STUDENT:
        return Intention(line, "stop", "A teacher's id", ((LEAVE_OUT, "Leave out"),))
    if seat is not None and seat.left_at is None:
        return Intention(
            line, "closed", "Already there", ((LEAVE_OUT, f"Nothing to do: {person} is here"),)
        )
    word = "Comes back" if seat is not None else "Known at this school"
    verb = "comes back" if seat is not None else "joins this course"
    options = ((f"same-{person.pk}", f"{person} {verb}"), (LEAVE_OUT, "Leave out"))
    return Intention(line, "waiting", word, options)


def _by_name(
    line: RosterLine, alike: Sequence[User], seats: Mapping[int, Seat], twin: int | None
) -> Intention:
    another = (NEW, "Another person: add")
    options: tuple[tuple[str, str], ...]
    if twin is not None and not line.roster_id:
        options = ((LEAVE_OUT, f"Leave out: the same as line {twin}"), another)
        return Intention(line, "caution", "Twice in the list", options)
    if not alike:
        return Intention(
            line, "current", "New", ((NEW, "Add as a new student"), (LEAVE_OUT, "Leave out"))
        )
    options = tuple((f"same-{one.pk}", _same(one, seats.get(one.pk), line)) for one in alike)
    return Intention(
        line, "caution", "Already there?", (*options, another, (LEAVE_OUT, "Leave out"))
    )


def _same(person: User, seat: Seat | None, line: RosterLine) -> str:
    called = f"The same person as {person} ({person.username})"
    if seat is None:
        return f"{called}: joins this course"
    if seat.left_at is not None:
        return f"{called}: comes back"
    return f"{called}: note the id" if line.roster_id else f"{called}: nothing to do"


def _carry_out(
    course: Course, intentions: Sequence[Intention], choices: Mapping[str, str]
) -> list[User]:
    came: list[User] = []
    new: list[RosterLine] = []
    for one in intentions:
        choice = choices.get(one.field, one.proposed)
        if choice not in dict(one.options):
            raise ListHasChanged("One of the choices is not on offer. Check the lines once more.")
        if choice == NEW:
            new.append(one.line)
        elif choice != LEAVE_OUT:
            person = User.objects.get(pk=int(choice.removeprefix("same-")))
            if one.line.roster_id and not person.roster_id:
                person.roster_id = one.line.roster_id
                person.save(update_fields=["roster_id"])
            if _take_seat(course, person):
                came.append(person)
    names = free_user_names([line.name for line in new]) if new else []
    for line, username in zip(new, names, strict=True):
        person = User.objects.create_user(
            username,
            None,
            display_name=line.name,
            roster_id=line.roster_id,
            school=course.school,
            role=Role.STUDENT,
        )
        Seat.objects.create(course=course, student=person)
        came.append(person)
    return came


def _take_seat(course: Course, person: User) -> bool:
    """Whether the person was not in the course before."""
    seat, made = Seat.objects.get_or_create(course=course, student=person)
    return made or bool(Seat.objects.filter(pk=seat.pk, left_at__isnull=False).update(left_at=None))


@transaction.atomic
def leave(seat: Seat, *, acting: User) -> None:
    """The student leaves the course; the work stays with the seat. Harmless twice."""
    if Seat.objects.filter(pk=seat.pk, left_at=None).update(left_at=timezone.now()):
        record(acting, "leave-course", seat, f"{seat.student} left {seat.course}")


@transaction.atomic
def come_back(seat: Seat, *, acting: User) -> None:
    refuse_when_closed(seat.course)
    refuse_when_erased(seat.student)
    if Seat.objects.filter(pk=seat.pk, left_at__isnull=False).update(left_at=None):
        record(acting, "return-to-course", seat, f"{seat.student} came back to {seat.course}")


@transaction.atomic
def move(seat: Seat, course: Course, *, acting: User) -> Seat:
    """Leave one course for another of the same school; projects stay with the old seat."""
    refuse_when_closed(course)
    if course.school_id != seat.course.school_id or course.pk == seat.course_id:
        raise Refused("Choose another course of this school.")
    refuse_when_erased(seat.student)
    leave(seat, acting=acting)
    if _take_seat(course, seat.student):
        record(acting, "join-course", course, f"{seat.student} moved here from {seat.course}")
    return Seat.objects.get(course=course, student=seat.student)


@transaction.atomic
def rename(student: User, *, display_name: str, roster_id: str, acting: User) -> None:
    """Mend a student's name or class list id (validated); the user name stays as printed."""
    refuse_when_erased(student)
    old = User.objects.get(pk=student.pk)
    if (old.display_name, old.roster_id) == (display_name, roster_id):
        return
    User.objects.filter(pk=student.pk).update(display_name=display_name, roster_id=roster_id)
    record(acting, "rename-student", student, f"Name or id of {display_name} mended")
