"""The school's teachers: adding one, closing an account, opening it again."""

from __future__ import annotations

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from classroom.models import Role, User, record
from classroom.refusals import Refused
from classroom.signin.passphrases import Card, issue_cards

from .user_names import free_user_names


def teachers_of(user: User) -> QuerySet[User]:
    """All teachers of the person's school, those who may sign in first."""
    return User.objects.filter(school=user.school, role=Role.TEACHER).order_by(
        "-is_active", "display_name", "pk"
    )


def add_teacher(display_name: str, *, keeps_school: bool, acting: User) -> Card:
    """A new teacher with a first passphrase, which exists on the returned card only.

    Raises Refused when a teacher of that name is there already (a second click among others).
    """
    if teachers_of(acting).filter(display_name=display_name).exists():
        raise Refused(
            f"There is a teacher {display_name} already. Give a new card to that one, or write "
            "this name differently."
        )
    try:
        with transaction.atomic():
            teacher = User.objects.create_user(
                free_user_names([display_name])[0],
                None,
                display_name=display_name,
                keeps_school=keeps_school,
                school=acting.school,
                role=Role.TEACHER,
            )
            record(acting, "add-teacher", teacher, f"Teacher {teacher} added")
            return issue_cards([teacher], acting=acting)[0]
    except IntegrityError as error:
        raise Refused("Somebody else was adding people just now. Send it once more.") from error


@transaction.atomic
def close_account(teacher: User, *, acting: User) -> None:
    """The teacher can no longer sign in; everything they did stays. Nobody closes their own."""
    if teacher.pk == acting.pk:
        raise Refused("You cannot close your own account. Another keeper of the school can.")
    if User.objects.filter(pk=teacher.pk, is_active=True).update(is_active=False):
        record(acting, "close-account", teacher, f"Account of {teacher} closed")


@transaction.atomic
def open_account(teacher: User, *, acting: User) -> None:
    if User.objects.filter(pk=teacher.pk, is_active=False).update(is_active=True):
        record(acting, "open-account", teacher, f"Account of {teacher} opened again")


@transaction.atomic
def set_keeper(teacher: User, keeps: bool, *, acting: User) -> None:
    """Let a teacher look after the school's settings, or no longer; one keeper always stays."""
    keepers = teachers_of(acting).filter(keeps_school=True, is_active=True)
    if not keeps and not keepers.exclude(pk=teacher.pk).exists():
        raise Refused("Somebody has to look after the school. Name another teacher first.")
    if User.objects.filter(pk=teacher.pk).exclude(keeps_school=keeps).update(keeps_school=keeps):
        what = "looks after" if keeps else "no longer looks after"
        record(acting, "set-keeper", teacher, f"{teacher} {what} the school's settings")
