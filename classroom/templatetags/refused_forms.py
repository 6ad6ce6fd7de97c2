"""The frame's way to say that a form was refused.

`{% refused_forms as refused %}` once, above everything; then the page's own part between
`{% below_refusals refused %}` and `{% endbelow_refusals %}`, which stands under the summary.
"""

from __future__ import annotations

from typing import Any

from django import template
from django.template.base import FilterExpression, NodeList, Parser, Token
from django.utils.safestring import SafeString, mark_safe

from classroom.refused_forms import DEEPEST, MOST, Wrong, on_page, wrongs_in

register = template.Library()


@register.simple_tag(takes_context=True)
def refused_forms(context: template.Context) -> list[Wrong]:
    shown: dict[Any, Any] = context.flatten()
    request = shown.get("request")
    was_sent = request is not None and request.method == "POST"
    # Where nothing was sent there is a filter at most, and long tables need not be gone through.
    return wrongs_in(shown, DEEPEST if was_sent else 0)


class BelowRefusals(template.Node):
    child_nodelists = ("nodelist",)

    def __init__(self, wrongs: FilterExpression, nodelist: NodeList) -> None:
        self.wrongs, self.nodelist = wrongs, nodelist

    def render(self, context: template.Context) -> SafeString:
        page = self.nodelist.render(context)
        found: list[Wrong] = self.wrongs.resolve(context)
        if not found:
            return page
        wrongs = on_page(found, page)
        shown = {"wrongs": wrongs[:MOST], "count": len(wrongs), "more": len(wrongs[MOST:])}
        assert context.template is not None
        summary = context.template.engine.get_template("components/refused_forms.html")
        with context.push(**shown):
            return mark_safe(summary.render(context) + page)  # noqa: S308 (both are rendered)


@register.tag
def below_refusals(parser: Parser, token: Token) -> BelowRefusals:
    _name, wrongs = token.split_contents()
    nodelist = parser.parse(("endbelow_refusals",))
    parser.delete_first_token()
    return BelowRefusals(parser.compile_filter(wrongs), nodelist)
