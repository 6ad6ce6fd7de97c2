"""Words too long for one line of a template, where the page itself is in English only.

`{% words as how %}` … `{% endwords %}` keeps what stands between, its lines joined by one space,
under that name, as `{% blocktranslate trimmed asvar how %}` does for translated texts.
"""

from __future__ import annotations

from django import template
from django.template.base import NodeList, Parser, Token
from django.utils.safestring import mark_safe
from django.utils.translation import trim_whitespace

register = template.Library()


class Words(template.Node):
    child_nodelists = ("nodelist",)

    def __init__(self, name: str, nodelist: NodeList) -> None:
        self.name, self.nodelist = name, nodelist

    def render(self, context: template.Context) -> str:
        said = trim_whitespace(self.nodelist.render(context))
        context[self.name] = mark_safe(said)  # noqa: S308 (it is rendered)
        return ""


@register.tag
def words(parser: Parser, token: Token) -> Words:
    parts = token.split_contents()
    if len(parts) != 3 or parts[1] != "as":
        raise template.TemplateSyntaxError("say “words as NAME”")
    nodelist = parser.parse(("endwords",))
    parser.delete_first_token()
    return Words(parts[2], nodelist)
