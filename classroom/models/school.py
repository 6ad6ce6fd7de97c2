"""The school: owner of the installation's people, courses and rack."""

from __future__ import annotations

import zoneinfo

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models

from classroom.languages import language_choices


def is_time_zone(name: str) -> None:
    """Validator: `name` is a zone of the IANA time zone database."""
    if name not in zoneinfo.available_timezones():
        raise ValidationError("Choose a time zone such as Europe/Lisbon or America/Halifax.")


class School(models.Model):
    class Units(models.TextChoices):
        MILLIMETRES = "mm", "millimetres and grams"
        INCHES = "in", "inches and ounces"

    class Paper(models.TextChoices):
        A4 = "a4", "A4 (210 × 297 mm)"
        LETTER = "letter", "Letter (8.5 × 11 in)"

    name = models.CharField(max_length=120)
    currency = models.CharField(
        max_length=3,
        default="USD",
        validators=[RegexValidator(r"^[A-Z]{3}$", "Three capital letters, such as USD or EUR.")],
        help_text="Three letters (ISO 4217), such as USD, CAD or EUR.",
    )
    units = models.CharField(max_length=2, choices=Units, default=Units.MILLIMETRES)
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.A4)
    time_zone = models.CharField(max_length=64, default="UTC", validators=[is_time_zone])
    language = models.CharField(
        max_length=8,
        default="en",
        choices=language_choices,
        help_text="The language of safety texts and prints; each can be asked for in another.",
    )
    asks_guardian = models.BooleanField(
        "a permit asks that a parent or guardian has signed the school's form",
        default=False,
        help_text="You record when the signed paper came back; the paper stays with you.",
    )
    retest_after_weeks = models.PositiveSmallIntegerField(
        "weeks of absence after which a permit is checked again",
        default=2,
        validators=[MinValueValidator(1), MaxValueValidator(52)],
        help_text="Stands on the guardian form and where permits are asked for again.",
    )
    keep_years = models.PositiveSmallIntegerField(
        "years after a course's end until names may be erased",
        default=2,
        validators=[MinValueValidator(1), MaxValueValidator(30)],
        help_text="As your district's rules say. Rows and counts stay; names go.",
    )
    local_rules = models.TextField(
        blank=True,
        max_length=2000,
        help_text="Your own rules, printed on every safety sheet (district policy, state law …).",
    )
    address_for_students = models.CharField(
        "address that students type",
        max_length=200,
        blank=True,
        help_text="Stands on sign-in cards and in the codes of labels. Empty: the address at "
        "which the page that prints them was opened.",
    )
    from_first_run = models.BooleanField(default=False, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            # Two people who open a fresh installation at once make one school, not two.
            models.UniqueConstraint(
                fields=["from_first_run"],
                condition=models.Q(from_first_run=True),
                name="one_school_from_the_first_run",
            )
        ]

    def __str__(self) -> str:
        return self.name
