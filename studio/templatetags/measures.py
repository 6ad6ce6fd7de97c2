"""Template tags that show lengths, areas, masses and money in the school's units, always named."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django import template
from django.utils.formats import number_format

from classroom.figures import units
from classroom.figures.rounding import rounded
from classroom.models import School
from classroom.wording import school_clock

register = template.Library()


def _units(context: dict[str, Any]) -> units.Units:
    school: School | None = context.get("school")
    return units.Units(school.units) if school else units.Units.MM


@register.simple_tag(takes_context=True)
def mm(context: dict[str, Any], value: float | Decimal | None) -> str:
    """A length given in millimetres."""
    return "–" if value is None else units.format_length(float(value), _units(context))


@register.simple_tag(takes_context=True)
def run(context: dict[str, Any], value: float | Decimal) -> str:
    """How far to saw, given in millimetres."""
    return units.format_run(float(value), _units(context))


@register.simple_tag(takes_context=True)
def size(context: dict[str, Any], one: float | Decimal, other: float | Decimal) -> str:
    """A rectangle whose direction says nothing (a strip that stays), the longer side first."""
    return units.format_size(float(one), float(other), _units(context))


@register.simple_tag(takes_context=True)
def fine(context: dict[str, Any], value: float | Decimal | None) -> str:
    """A small length in millimetres, fine enough to compare with a limit; always decimal."""
    return "–" if value is None else units.format_thickness(float(value), _units(context))


@register.simple_tag(takes_context=True)
def thickness(context: dict[str, Any], value: float | Decimal | None) -> str:
    """A sheet's thickness given in millimetres, always decimal."""
    return "–" if value is None else units.format_thickness(float(value), _units(context))


@register.simple_tag(takes_context=True)
def mm2(context: dict[str, Any], value: float | Decimal | None) -> str:
    """An area given in square millimetres."""
    return "–" if value is None else units.format_area(float(value), _units(context))


@register.simple_tag(takes_context=True)
def grams(context: dict[str, Any], value: float | Decimal | None) -> str:
    """A mass given in grams."""
    return "–" if value is None else units.format_mass(float(value), _units(context))


@register.simple_tag(takes_context=True)
def money(context: dict[str, Any], value: Decimal | None) -> str:
    """An amount in the school's currency, two places and the currency's letters."""
    if value is None:
        return "–"
    school: School | None = context.get("school")
    return f"{_amount(value)} {school.currency if school else ''}".strip()


@register.simple_tag
def amount(value: Decimal) -> str:
    """Money in a column whose head names the currency; the same figure as `money` writes."""
    return _amount(value)


def _amount(value: Decimal) -> str:
    sign = "−" if value < 0 else ""
    cents = rounded(abs(value), 2)
    return sign + number_format(cents, decimal_pos=2, use_l10n=True, force_grouping=True)


@register.filter
def full_minute(moment: dt.datetime) -> dt.datetime:
    """The end of a wait, to be said in hours and minutes."""
    return school_clock.full_minute(moment)


@register.filter
def percent(value: float | Decimal | None) -> str:
    """A share between 0 and 1 as a whole percentage; the words beside it name its whole."""
    return "–" if value is None else units.format_share(value)
