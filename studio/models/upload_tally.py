"""How many files a person has brought on one day."""

from __future__ import annotations

from django.db import models

from classroom.models import User


class UploadTally(models.Model):
    owner = models.ForeignKey(User, on_delete=models.PROTECT, related_name="upload_tallies")
    day = models.DateField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["owner", "day"], name="one_upload_tally_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.owner}, {self.day}: {self.count}"
