"""Who signs in: teachers and students, by user name and passphrase, no e-mail anywhere."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.validators import RegexValidator
from django.db import models

from .school import School


class Role(models.TextChoices):
    TEACHER = "teacher", "teacher"
    STUDENT = "student", "student"


class UserManager(BaseUserManager["User"]):
    def create_user(self, username: str, passphrase: str | None = None, **fields: Any) -> User:
        """Make a person who can sign in; without a passphrase, one who cannot yet."""
        user = self.model(username=username.lower(), **fields)
        user.set_password(passphrase)
        user.full_clean(exclude=["password"])
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(username=(username or "").lower())


class User(AbstractBaseUser):
    """A teacher or a student of one school. Only what a class list needs is kept."""

    username = models.CharField(
        "user name",
        max_length=40,
        unique=True,
        validators=[
            RegexValidator(r"^[a-z0-9][a-z0-9.-]*$", "Small letters, digits, dots and hyphens.")
        ],
    )
    display_name = models.CharField("name", max_length=80)
    school = models.ForeignKey(School, on_delete=models.PROTECT, related_name="people")
    role = models.CharField(max_length=8, choices=Role)
    keeps_school = models.BooleanField(
        "looks after the school's settings",
        default=False,
        help_text="May change the school's settings and add teachers.",
    )
    roster_id = models.CharField("class list id", max_length=64, blank=True)
    language = models.CharField(
        max_length=8,
        blank=True,
        default="",
        help_text="Of bench and safety pages; empty for the school's.",
    )
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField(auto_now_add=True)

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["display_name"]

    objects = UserManager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["school", "roster_id"],
                condition=~models.Q(roster_id=""),
                name="one_person_per_class_list_id",
            ),
            models.CheckConstraint(
                condition=models.Q(keeps_school=False) | models.Q(role="teacher"),
                name="only_a_teacher_keeps_the_school",
            ),
        ]

    def __str__(self) -> str:
        return self.display_name

    @property
    def is_teacher(self) -> bool:
        return self.role == Role.TEACHER

    @property
    def is_student(self) -> bool:
        return self.role == Role.STUDENT
