"""Which entries are looked at, and in which order: the form above every review."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django import forms

from inventory.models import Metal
from studio.models import Brief

from .entries import Entry, Totals, totals

SORTS = {
    "name": "Name",
    "waste": "Most waste first",
    "cost": "Dearest first",
    "over": "Furthest over the allowance first",
    "recent": "Latest metal first",
}


class ReviewForm(forms.Form):
    """Brief, metal, dates of handing out, order."""

    brief = forms.ChoiceField(required=False)
    metal = forms.ChoiceField(required=False)
    from_day = forms.DateField(
        label="Handed out from", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    to_day = forms.DateField(
        label="until", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    sort = forms.ChoiceField(label="Order", choices=list(SORTS.items()), required=False)

    def __init__(
        self, *args: Any, briefs: Sequence[Brief] = (), metals: Sequence[Metal] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        own: Any = self.fields
        if briefs:
            own["brief"].choices = [("", "All briefs"), *((str(b.pk), b.title) for b in briefs)]
        else:
            del self.fields["brief"]
        own["metal"].choices = [("", "All metals"), *((str(m.pk), str(m)) for m in metals)]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        first, last = data.get("from_day"), data.get("to_day")
        if first and last and last < first:
            self.add_error("to_day", "This day lies before the first one.")
        return data

    def words(self) -> str:
        """What the list is narrowed to, for a print; empty when it is not."""
        if not self.is_bound:
            return ""
        self.is_valid()
        data = self.cleaned_data
        fields: Any = self.fields
        words = [
            dict(fields[name].choices).get(data[name], "")
            for name in ("brief", "metal")
            if data.get(name)
        ]
        if data.get("from_day"):
            words.append(f"from {data['from_day']:%Y-%m-%d}")
        if data.get("to_day"):
            words.append(f"until {data['to_day']:%Y-%m-%d}")
        return ", ".join(word for word in words if word)


@dataclass(frozen=True, slots=True)
class ReviewRow:
    """One line of a review: a project, student, brief or metal with its entries added up."""

    label: str
    note: str
    url: str
    key: int
    sums: Totals
    entries: tuple[Entry, ...] = field(repr=False)

    @property
    def metals(self) -> str:
        return ", ".join(dict.fromkeys(str(entry.metal) for entry in self.entries))

    @property
    def settled(self) -> bool:
        return all(entry.settled for entry in self.entries)

    @property
    def last_on(self) -> dt.date:
        return max(entry.issued_on for entry in self.entries)


def narrowed(entries: Sequence[Entry], form: ReviewForm) -> list[Entry]:
    """The entries that the form asks for; a field that is wrong does not narrow."""
    if not form.is_bound:
        return list(entries)
    form.is_valid()
    data = form.cleaned_data
    found = list(entries)
    if data.get("brief"):
        found = [one for one in found if str(one.project.brief_id) == data["brief"]]
    if data.get("metal"):
        found = [one for one in found if str(one.metal.pk) == data["metal"]]
    if data.get("from_day"):
        found = [one for one in found if one.issued_on >= data["from_day"]]
    if data.get("to_day") and "to_day" not in form.errors:
        found = [one for one in found if one.issued_on <= data["to_day"]]
    return found


def _pieces_share(row: ReviewRow) -> float:
    share = row.sums.pieces_share
    return 1.0 if share is None else share


def ordered(rows: Sequence[ReviewRow], sort: str) -> list[ReviewRow]:
    """By name unless asked otherwise; equal rows stay by name."""
    named = sorted(rows, key=lambda row: (row.label.casefold(), row.note.casefold(), row.key))
    match sort:
        case "waste":
            return sorted(named, key=_pieces_share)
        case "cost":
            return sorted(named, key=lambda row: -row.sums.total)
        case "over":
            return sorted(named, key=lambda row: row.sums.left)
        case "recent":
            return sorted(named, key=lambda row: row.last_on, reverse=True)
        case _:
            return named


def rows_by(entries: Sequence[Entry], kind: str) -> list[ReviewRow]:
    """Entries put together by "project", "student", "brief" or "metal"."""
    groups: dict[int, list[Entry]] = {}
    for entry in entries:
        project = entry.project
        key = {
            "project": project.pk,
            "student": project.seat_id,
            "brief": project.brief_id,
            "metal": entry.metal.pk,
        }[kind]
        groups.setdefault(key, []).append(entry)
    found = []
    for key, own in groups.items():
        project = own[0].project
        student, title = str(project.seat.student), project.title or project.brief.title
        label, note = {
            "project": (student, title),
            "student": (student, ""),
            "brief": (project.brief.title, ""),
            "metal": (str(own[0].metal), ""),
        }[kind]
        found.append(ReviewRow(label, note, "", key, totals(own), tuple(own)))
    return found
