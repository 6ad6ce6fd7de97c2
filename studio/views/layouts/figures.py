"""The figures beside the layout table, each with what the last move did to it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from classroom.figures.units import format_area, format_run, format_size
from classroom.models import School
from studio.models import Layout
from studio.templatetags.measures import amount

MINUS = "\N{MINUS SIGN}"
LESS, MORE = -1, 1

_Row = tuple[str, str, str, Callable[[Mapping[str, Any]], float], Any, int]


def figures_of(
    layout: Layout, now: Mapping[str, Any], before: Mapping[str, Any] | None, school: School
) -> list[dict[str, Any]]:
    """Rows of {"key", "label", "value", "change", "better"}, in the order of their worth.

    `change` is "" and `better` None where the last move did nothing to it. Another piece on the
    metal uses metal and saw, which makes no layout worse, and taking one off makes none better:
    there `better` tells only what is spared by laying it well.
    """

    def area(mm2: float) -> str:
        return format_area(mm2, school.units)

    def run(mm: float) -> str:
        return format_run(mm, school.units)

    def money(value: float | Decimal) -> str:
        return f"{amount(Decimal(str(value)))} {school.currency}".strip()

    longer, shorter = now["largest_rectangle_mm"]
    strip = format_size(longer, shorter, school.units) if longer > 0 else _("none")
    price = money(Decimal(now["price"]))
    if layout.project is not None:
        allowance = layout.project.brief.allowance
        beside = {"price": amount(Decimal(now["price"])), "allowance": money(allowance)}
        if Decimal(now["price"]) > allowance:
            price = _("%(price)s, above %(allowance)s") % beside
        else:
            price = _("%(price)s of %(allowance)s") % beside
    rows: list[_Row] = [
        ("used", _("Metal used up"), area(now["consumed_mm2"]), _of("consumed_mm2"), area, LESS),
        ("strip", _("Largest strip left"), strip, _strip_mm2, area, MORE),
        ("saw", _("To saw"), run(now["saw_line_mm"]), _of("saw_line_mm"), run, LESS),
        *_of_parting(layout, now, run),
        ("spared", _("Spared by edges"), run(now["free_edge_mm"]), _of("free_edge_mm"), run, MORE),
        ("shared", _("Shared cuts"), run(now["for_two_mm"]), _of("for_two_mm"), run, MORE),
        ("price", _("Price, about"), price, _of("price"), money, LESS),
    ]
    return [
        {"key": key, "label": label, "value": value} | _change(now, before, figure, told, good)
        for key, label, value, figure, told, good in rows
    ]


def _of_parting(layout: Layout, now: Mapping[str, Any], run: Callable[[float], str]) -> list[_Row]:
    """Where the metal is parted with the shear: the length of its cuts; a saw's are sawn."""
    parting = layout.asked.parting
    if parting is None or parting.way != "shear":
        return []
    cut = float(now.get("cut_line_mm", 0.0))
    return [("cut", _("To cut"), run(cut), _of("cut_line_mm"), run, LESS)]


def _of(name: str) -> Callable[[Mapping[str, Any]], float]:
    return lambda figures: float(figures.get(name, 0.0))


def _strip_mm2(figures: Mapping[str, Any]) -> float:
    longer, shorter = figures.get("largest_rectangle_mm", (0.0, 0.0))
    return float(longer) * float(shorter)


def _change(
    now: Mapping[str, Any],
    before: Mapping[str, Any] | None,
    figure: Callable[[Mapping[str, Any]], float],
    told: Callable[[float], str],
    good: int,
) -> dict[str, Any]:
    before = now if before is None else before
    difference = figure(now) - figure(before)
    if told(abs(difference)) == told(0.0):
        return {"change": "", "better": None}
    sign = "+" if difference > 0 else MINUS
    change = f"{sign}{told(abs(difference))}"
    if now.get("missing") == before.get("missing"):
        return {"change": change, "better": difference * good > 0}
    is_spared = difference > 0 and now.get("missing", 0) < before.get("missing", 0)
    return {"change": change, "better": True if is_spared and good == MORE else None}
