"""What the sign-in throttle counts: wrong tries, by keys that name nobody.

`classroom/signin/slowing.py` says what the figures mean and is the only writer.
"""

from __future__ import annotations

import datetime as dt
from typing import Self

from django.db import models


class SignInCountQuerySet(models.QuerySet["SignInCount"]):
    def forgotten(self, now: dt.datetime) -> Self:
        """Rows whose wrong tries have all been forgotten by now."""
        return self.filter(forget_at__lt=now)


class SignInCount(models.Model):
    """One count. Names and addresses stand in it only as keyed hashes."""

    key = models.CharField(max_length=32, primary_key=True)
    account = models.CharField(
        max_length=32, blank=True, help_text="Hash of the user name that it is about, if of one."
    )
    level = models.FloatField(default=0, help_text="Wrong tries, less what was forgotten.")
    counted_at = models.DateTimeField()
    free_at = models.DateTimeField(help_text="Until then no try is looked at.")
    forget_at = models.DateTimeField()
    turn = models.PositiveBigIntegerField(default=0, help_text="Goes up with every change.")

    objects = SignInCountQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["account"]), models.Index(fields=["forget_at"])]

    def __str__(self) -> str:
        return f"{self.level:.1f} wrong tries"
