"""`{% words as … %}`: long words of an English page, broken over lines."""

from __future__ import annotations

import pytest
from django.template import Context, Template, TemplateSyntaxError


def test_lines_are_joined_by_one_space_and_kept_under_the_name() -> None:
    words = "{% words as how %}\n  Lay it flat,\n  {{ who }}.\n{% endwords %}"
    page = Template("{% load words %}" + words + "[{{ how }}]")
    assert page.render(Context({"who": "A & B"})) == "[Lay it flat, A &amp; B.]"


def test_words_want_a_name() -> None:
    with pytest.raises(TemplateSyntaxError, match="words as NAME"):
        Template("{% load words %}{% words %}Lay it flat.{% endwords %}")
