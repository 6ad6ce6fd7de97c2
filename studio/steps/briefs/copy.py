"""A new term starts from last term's briefs: all of a course's briefs, copied into another."""

from __future__ import annotations

from django.db import transaction

from classroom.models import Course, User, record
from classroom.refusals import Refused
from studio.models import Brief

MOST_BRIEFS = 100


@transaction.atomic
def copy_briefs(source: Course, target: Course, *, acting: User) -> list[Brief]:
    """Copy every brief of `source` into `target`, open and without a due date.

    What `target` has under the same title already is left out, so that copying twice copies
    once. Metals that the school keeps no more on its list are left out of the copies. Raises
    Refused for a closed course, for one and the same, and when nothing is left to copy.
    """
    if target.closed_at is not None:
        raise Refused("This course is closed, so it takes no new brief.")
    if source.pk == target.pk or source.school_id != target.school_id:
        raise Refused("Choose another course of your school to copy from.")
    # The course's row is held, so that two at once do not both copy.
    Course.objects.select_for_update().get(pk=target.pk)
    there = {title.casefold() for title in target_titles(target)}
    copied = []
    for old in Brief.objects.filter(course=source).order_by("pk")[:MOST_BRIEFS]:
        if old.title.casefold() in there:
            continue
        metals = list(old.metals.filter(retired_at=None))
        made = _copy(old, target, acting)
        made.metals.set(metals)
        there.add(made.title.casefold())
        copied.append(made)
        record(acting, "brief-written", made, f"copied the brief from {source}, {source.term}")
    if not copied:
        raise Refused(f"There is no brief in {source} that this course does not have already.")
    return copied


def target_titles(course: Course) -> list[str]:
    return list(Brief.objects.filter(course=course).values_list("title", flat=True))


def _copy(old: Brief, target: Course, acting: User) -> Brief:
    fields = {
        field.attname: getattr(old, field.attname)
        for field in Brief._meta.concrete_fields
        if field.name not in ("id", "course", "created_by", "created_at", "closed_at", "due_on")
    }
    return Brief.objects.create(**fields, course=target, created_by=acting)
