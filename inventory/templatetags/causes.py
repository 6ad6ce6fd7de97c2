"""Words of a list's rows: a reason with a link to what caused it, how much a supply did."""

from __future__ import annotations

from decimal import Decimal

from django import template
from django.template.defaultfilters import floatformat
from django.utils.html import format_html

from inventory.models import Consumable

register = template.Library()


@register.simple_tag
def signed(number: Decimal) -> str:
    """With its sign, in at most two places; "+0" for none."""
    return f"{'−' if number < 0 else '+'}{floatformat(abs(number), '-2')}"


@register.simple_tag
def measured(supply: Consumable, number: Decimal) -> str:
    """So much of what the supply does: "18 centimetres sawn"."""
    return Consumable.Per(supply.per).measured(number)


@register.simple_tag
def why(reason: str, cause: dict[str, str] | None) -> str:
    """Where the reason names its cause ("set aside for cut plan 12"), the name is the link."""
    if cause is None:
        return reason
    label, url = cause["label"], cause["url"]
    before, named, after = reason.partition(label)
    if named and not after[:1].isdigit():
        return format_html('{}<a href="{}">{}</a>{}', before, url, named, after)
    return format_html('{}, <a href="{}">{}</a>', reason, url, label)
