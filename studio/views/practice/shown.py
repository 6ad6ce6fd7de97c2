"""What the pages of practice show: how far one has come, and how near the known answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.models import User
from studio.core.practice import SHEETS, Sheet, Standing, standing_of
from studio.models import PracticeTry
from studio.queries.practice import practice_tries_for

from .pictures import SheetPicture, sheet_picture

WORDS: Mapping[Standing, tuple[str, str]] = {
    Standing.NOT_BEGUN: ("draft", gettext_noop("Not begun")),
    Standing.BEGUN: ("current", gettext_noop("Begun")),
    Standing.WHOLE: ("done", gettext_noop("All laid")),
    Standing.AS_GOOD: ("done", gettext_noop("As good as the known answer")),
    Standing.BETTER: ("done", gettext_noop("Better than the known answer")),
}


@dataclass(frozen=True, slots=True)
class Row:
    """One sheet in the list, with how far the person has come. `kind` is that of a status."""

    sheet: Sheet
    picture: SheetPicture
    standing: Standing
    kind: str
    word: str

    @property
    def is_begun(self) -> bool:
        return self.standing is not Standing.NOT_BEGUN


def rows_for(user: User) -> list[Row]:
    """All sheets, easiest first."""
    tries = {one.sheet: one for one in practice_tries_for(user)}
    return [_row(sheet, tries.get(sheet.code)) for sheet in SHEETS]


def _row(sheet: Sheet, own: PracticeTry | None) -> Row:
    standing = standing_now(sheet, own)
    kind, word = WORDS[standing]
    return Row(sheet, sheet_picture(sheet.code), standing, kind, _(word))


def standing_now(sheet: Sheet, own: PracticeTry | None) -> Standing:
    """How far somebody has come with a sheet; None for one who has laid nothing yet."""
    if own is None:
        return Standing.NOT_BEGUN
    best: Mapping[str, Any] = own.best
    return standing_of(sheet, best.get("metal_mm2"), begun=own.version > 0)
