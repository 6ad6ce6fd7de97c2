"""A form that has been sent: the same one sent twice is not entered twice."""

from __future__ import annotations

from django.db import models

from classroom.models import User


class SentForm(models.Model):
    """The key that a form carried when it was shown, kept when what it asked for was done."""

    key = models.UUIDField(primary_key=True)
    sent_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    sent_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return str(self.key)

    @classmethod
    def is_first(cls, key: object, sender: User) -> bool:
        """Whether this key has not been seen. Ask inside the transaction that does the deed.

        A form without a key (None) is always the first.
        """
        if key is None:
            return True
        _, first = cls.objects.get_or_create(key=key, defaults={"sent_by": sender})
        return first
