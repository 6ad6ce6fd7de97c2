"""A course is one class section in one term; a seat is one student's place in it."""

from __future__ import annotations

import datetime as dt

from django.contrib.auth.hashers import UNUSABLE_PASSWORD_PREFIX
from django.db import models
from django.db.models import F, Q

from .people import User
from .school import School


class CourseQuerySet(models.QuerySet["Course"]):
    def running(self) -> CourseQuerySet:
        """Courses that have not been closed."""
        return self.filter(closed_at=None)


class Course(models.Model):
    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="courses")
    title = models.CharField(max_length=120)
    section = models.CharField(max_length=40, blank=True, help_text="Such as “Period 3” or “B”.")
    term = models.CharField(max_length=60, help_text="Such as “Autumn 2026”.")
    starts_on = models.DateField("first day")
    ends_on = models.DateField("last day")
    teachers = models.ManyToManyField(User, related_name="courses_taught")
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)

    objects = CourseQuerySet.as_manager()

    class Meta:
        ordering = ["-starts_on", "title", "section", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_on__gte=F("starts_on")), name="term_ends_last"),
            models.UniqueConstraint(
                fields=["school", "title", "section", "term"],
                name="one_course_per_section_and_term",
                violation_error_message="This school has that course, section and term already.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}, {self.section}" if self.section else self.title

    def is_running_on(self, day: dt.date) -> bool:
        return self.closed_at is None and self.starts_on <= day <= self.ends_on


class SeatQuerySet(models.QuerySet["Seat"]):
    def taken(self) -> SeatQuerySet:
        """Seats of students who have not left the course."""
        return self.filter(left_at=None)

    def without_passphrase(self) -> SeatQuerySet:
        """Seats of students who cannot sign in yet: no card has been printed."""
        return self.filter(student__password__startswith=UNUSABLE_PASSWORD_PREFIX)


class Seat(models.Model):
    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="seats")
    student = models.ForeignKey(User, on_delete=models.PROTECT, related_name="seats")
    joined_at = models.DateTimeField(auto_now_add=True)
    left_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = SeatQuerySet.as_manager()

    class Meta:
        ordering = ["student__display_name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["course", "student"], name="one_seat_per_student")
        ]

    def __str__(self) -> str:
        return f"{self.student} in {self.course}"
