"""Substances where they matter: beside the topics or permits that concern them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template
from django.utils.translation import get_language

from classroom.models import School
from classroom.safety.substances import shown_with

register = template.Library()


@register.inclusion_tag("classroom/topics/_substance_notes.html")
def substance_notes(school: School, codes: Iterable[str]) -> dict[str, Any]:
    """Short cautions of every substance that belongs to the topics of these codes."""
    return {"substances": shown_with(school, set(codes), get_language() or "en")}
