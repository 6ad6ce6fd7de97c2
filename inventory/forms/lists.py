"""What the lists of purchases, orders, scrap and budget entries are narrowed and sorted by."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.db.models import Q, QuerySet

from inventory import metals
from inventory.models import BudgetEntry

Sorts = dict[str, tuple[str, tuple[str, ...]]]


class ListFilter(forms.Form):
    """Words that are looked for in `searched`, and an order out of `sorts` (first: as usual)."""

    searched: ClassVar[tuple[str, ...]] = ()
    sorts: ClassVar[Sorts] = {}
    exact: ClassVar[dict[str, str]] = {}
    """Fields that choose rows with just that value: the field's name, the row's column."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["search"] = forms.CharField(
            label=self.search_label, max_length=60, required=False
        )
        self.fields["sort"] = forms.ChoiceField(
            label="Order",
            required=False,
            choices=[(key, words) for key, (words, _) in self.sorts.items()],
        )

    search_label: ClassVar[str] = "Look for"

    def narrow(self, rows: QuerySet[Any]) -> tuple[QuerySet[Any], bool]:
        """The rows asked for, in the order asked for, and whether any were left out on purpose."""
        asked: dict[str, Any] = {}
        if self.is_bound:
            self.full_clean()
            asked = self.cleaned_data
        narrowed = False
        for name, column in self.exact.items():
            if asked.get(name):
                rows, narrowed = rows.filter(**{column: asked[name]}), True
        if words := " ".join((asked.get("search") or "").split()):
            found = Q()
            for column in self.searched:
                found |= Q(**{f"{column}__icontains": words})
            rows, narrowed = rows.filter(found), True
        rows, more = self.narrow_more(rows, asked)
        _, order = self.sorts.get(asked.get("sort") or "") or next(iter(self.sorts.values()))
        return rows.order_by(*order), narrowed or more

    def narrow_more(self, rows: QuerySet[Any], asked: dict[str, Any]) -> tuple[QuerySet[Any], bool]:
        """What a list asks for besides."""
        return rows, False


class PurchaseFilter(ListFilter):
    search_label = "Seller or receipt"
    searched = ("seller", "reference")
    sorts: ClassVar[Sorts] = {
        "new": ("Newest first", ("-bought_on", "-pk")),
        "old": ("Oldest first", ("bought_on", "pk")),
        "dear": ("Dearest first", ("-paid", "-pk")),
    }


class OrderFilter(ListFilter):
    state = forms.ChoiceField(
        choices=[("", "Open and closed"), ("open", "Open"), ("closed", "Closed")], required=False
    )
    search_label = "Seller or number"
    searched = ("seller", "reference")
    sorts: ClassVar[Sorts] = {
        "open": ("Open ones first", ("closed", "-ordered_on", "-pk")),
        "new": ("Newest first", ("-ordered_on", "-pk")),
        "old": ("Oldest first", ("ordered_on", "pk")),
    }

    def narrow_more(self, rows: QuerySet[Any], asked: dict[str, Any]) -> tuple[QuerySet[Any], bool]:
        state = asked.get("state")
        if not state:
            return rows, False
        return rows.filter(closed_at__isnull=state == "open"), True


class _AlloyFilter(ListFilter):
    alloy = forms.ChoiceField(
        choices=[
            ("", "All alloys"),
            *((code, metals.alloy(code).plain_name) for code in metals.ALLOY_CODES),
        ],
        required=False,
    )
    exact: ClassVar[dict[str, str]] = {"alloy": "alloy_code"}


class WeighingFilter(_AlloyFilter):
    search_label = "Why"
    searched = ("reason",)
    sorts: ClassVar[Sorts] = {
        "new": ("Newest first", ("-at", "-pk")),
        "old": ("Oldest first", ("at", "pk")),
        "heavy": ("Heaviest first", ("-mass_g", "-pk")),
    }


class SaleFilter(_AlloyFilter):
    search_label = "Sold to"
    searched = ("buyer",)
    sorts: ClassVar[Sorts] = {
        "new": ("Newest first", ("-sold_on", "-pk")),
        "old": ("Oldest first", ("sold_on", "pk")),
        "most": ("Most money first", ("-amount", "-pk")),
    }


class EntryFilter(ListFilter):
    kind = forms.ChoiceField(choices=[("", "All kinds"), *BudgetEntry.Kind.choices], required=False)
    exact: ClassVar[dict[str, str]] = {"kind": "kind"}
    search_label = "Why"
    searched = ("reason",)
    sorts: ClassVar[Sorts] = {
        "new": ("Newest first", ("-at", "-pk")),
        "old": ("Oldest first", ("at", "pk")),
        "large": ("Largest first", ("-amount", "-pk")),
    }
