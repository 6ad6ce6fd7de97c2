"""Kinds of things in the record of an erasure, in the reader's language."""

from __future__ import annotations

from django import template
from django.utils.translation import gettext, gettext_noop

register = template.Library()

FORMER_WORDS = (gettext_noop("texts and diary rows that named them"),)
"""Stand in records of erasures made before; they stay as they were written."""


@register.filter
def in_words(text: str) -> str:
    """A stored English text as the catalogue has it."""
    return gettext(text) if text else ""
