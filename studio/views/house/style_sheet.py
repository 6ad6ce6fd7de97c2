"""How does every part of the house look? One page for those who write templates (DEBUG only)."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from classroom.permissions import Action, Visit, requires


class SampleForm(forms.Form):
    """One field of every kind, so that each can be looked at."""

    label = forms.CharField(label="Label code", help_text="As written on the metal.")
    metal = forms.ChoiceField(choices=[("cu-0.8", "Copper 0.8 mm"), ("br-1.0", "Brass 1.0 mm")])
    width = forms.DecimalField(label="Width, mm", min_value=1)
    received = forms.DateField(widget=forms.DateInput(attrs={"type": "date"}))
    remark = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)
    clean_edges = forms.BooleanField(label="All edges are straight and clean", required=False)
    kind = forms.ChoiceField(
        widget=forms.RadioSelect, choices=[("sheet", "Full sheet"), ("offcut", "Offcut")]
    )


class UploadForm(forms.Form):
    """The upload field alone."""

    file = forms.FileField(label="Choose your pattern")


class FilterForm(forms.Form):
    """What a list is narrowed by."""

    metal = forms.ChoiceField(choices=[("", "All metals"), ("cu", "Copper")], required=False)
    search = forms.CharField(label="Label or name", required=False)


@requires(Action.SEE_FIRST_PAGE)
def style_sheet(request: Visit) -> HttpResponse:
    """Every component with sample content; not found outside DEBUG."""
    if not settings.DEBUG:
        raise Http404
    for add, text in (
        (messages.success, "The sheet CU-014 is on the rack."),
        (messages.warning, "The rack holds only one sheet of brass 1.0 mm."),
        (messages.error, "The plan was not approved: it costs 4.10 more than is left."),
        (messages.info, "Placing has begun."),
    ):
        add(request, text)
    return render(request, "house/style_sheet.html", samples())


def samples() -> dict[str, Any]:
    """The sample content, without the database."""
    now = timezone.now()
    return {
        "crumbs": [{"label": "Courses", "url": "#"}, {"label": "Metals 1, autumn"}],
        "sections": [
            {"label": "Pattern", "url": "#a", "current": True},
            {"label": "Cut plan", "url": "#b"},
            {"label": "Bench", "url": "#c"},
            {"label": "Costs", "url": "#d"},
        ],
        "steps": [
            {"label": "Prepare", "state": "done", "note": "24 Nov, 09:10"},
            {"label": "Adhere", "state": "done", "note": "24 Nov, 09:35"},
            {"label": "Dry", "state": "waiting", "note": "until 10:35"},
            {"label": "Drill", "state": "current", "url": "#"},
            {"label": "Saw", "state": "locked", "note": "needs a bench permit"},
            {"label": "Remove pattern", "state": "locked"},
            {"label": "Finish", "state": "locked"},
        ],
        "entries": [
            {"when": now - timedelta(days=2), "who": "Ines Arkwell", "what": "handed in pattern 1"},
            {
                "when": now - timedelta(days=1),
                "who": "Mr Tolland",
                "what": "handed the pattern back",
                "why": "The tail is thinner than 2 mm where it meets the body.",
            },
            {"when": now, "who": "Ines Arkwell", "what": "handed in pattern 2"},
        ],
        "until": now + timedelta(minutes=42),
        "allotted": Decimal("480.00"),
        "charged": Decimal("212.35"),
        "committed": Decimal("96.10"),
        "left": Decimal("171.55"),
        "overdrawn": Decimal("-12.40"),
        "rows": [
            _bar("Ines Arkwell", "41 g", 62, 21, 11, 6),
            _bar("Bram Oduya", "38 g", 48, 30, 15, 7),
            _bar("Lotte Faringdon", "52 g", 71, 9, 14, 6),
        ],
        "items": [
            {"text": "Metal abraded until no dark spots show when tilted", "sub": "320 grit"},
            {"text": "Degreased, and touched only by its edges"},
        ],
        "page": Paginator(range(95), 20).page(2),
        "form": SampleForm({"label": "CU-014", "metal": "cu-0.8", "width": "-3", "kind": "sheet"}),
        "filter_form": FilterForm(),
        "upload_form": UploadForm(),
    }


def _bar(label: str, value: str, *percents: int) -> dict[str, Any]:
    kinds = ("piece", "offcut", "scrap", "kerf")
    parts, start = [], 0
    for kind, width in zip(kinds, percents, strict=True):
        parts.append({"kind": kind, "start": start, "width": width})
        start += width
    text = ", ".join(f"{kind} {width} %" for kind, width in zip(kinds, percents, strict=True))
    return {"label": label, "url": "", "value": value, "text": text, "parts": parts}
