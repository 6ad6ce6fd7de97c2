"""One page of a list that may be narrowed and sorted."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.db.models import QuerySet

from classroom.permissions import Visit
from inventory.forms.lists import ListFilter


def narrowed_page(
    request: Visit, rows: QuerySet[Any], kind: type[ListFilter], *, per_page: int = 25
) -> dict[str, Any]:
    """For components/filter_bar.html and pager.html: form, page, keep, and whether narrowed.

    The form stands under `narrow`, because most of these pages have a form of their own.
    """
    form = kind(request.GET or None)
    found, narrowed = form.narrow(rows)
    keep = request.GET.copy()
    keep.pop("page", None)
    return {
        "narrow": form,
        "narrowed": narrowed,
        "page": Paginator(found, per_page).get_page(request.GET.get("page")),
        "keep": keep.urlencode(),
    }
