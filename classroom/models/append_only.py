"""Rows that are written once: records of metal, money, permits and sign-offs.

A correction is a new row that names the old one. The guard sits on the model and on its
queryset, so that neither a view nor a script changes history by accident.
"""

from __future__ import annotations

from typing import Any, Never, TypeVar

from django.db import models


class HistoryIsKept(RuntimeError):
    """Somebody tried to change or delete a row of an append-only record."""


_M = TypeVar("_M", bound=models.Model)


class AppendOnlyQuerySet(models.QuerySet[_M]):
    def update(self, **kwargs: Any) -> Never:
        raise HistoryIsKept(f"{self.model.__name__} rows are never changed; write a new one.")

    def delete(self) -> Never:
        raise HistoryIsKept(f"{self.model.__name__} rows are never deleted.")


class AppendOnly(models.Model):
    """Base of every append-only record."""

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise HistoryIsKept(f"{type(self).__name__} rows are never changed; write a new one.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Never:
        raise HistoryIsKept(f"{type(self).__name__} rows are never deleted.")
