"""The chip that tells whose a thing is, wherever several students share a picture."""

from __future__ import annotations

from typing import Any

from django import template

from studio.core.picturing.colours import Mark, mark_of

register = template.Library()


@register.inclusion_tag("components/pictures/letter_chip.html", takes_context=True)
def letter_chip(context: dict[str, Any], letter: str) -> dict[str, Any]:
    """A student's letter on a plan (labels_of) with the colour and the pattern that go with it.

    ValueError for what is no letter of a plan.
    """
    return {"chip": mark_of(letter), "pdf": context.get("pdf", False)}


@register.filter
def mark(letter: str) -> Mark:
    """The colour and the pattern of a letter, for a picture."""
    return mark_of(letter)
