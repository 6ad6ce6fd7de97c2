"""Templates that one can read: short lines, and no machines of many states.

Where a template would decide by many ifs what the state of a thing is, Python says it in a word
and each state has a template of its own.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.template.loader import get_template

TEMPLATES = Path(__file__).resolve().parents[2] / "templates"
TEXTS = {
    path.relative_to(TEMPLATES).as_posix(): path.read_text(encoding="utf-8")
    for path in sorted(TEMPLATES.rglob("*.html"))
}
LONGEST_LINE = 160
MOST_IFS = 15
DEEPEST_IF = 3

_COMMENT = re.compile(r"\{#.*?#\}|\{% comment %\}.*?\{% endcomment %\}", re.DOTALL)
_IF = re.compile(r"\{%\s*(if|elif|endif)\b")


def ifs(text: str) -> tuple[int, int]:
    """How many ifs and elifs a template has, and how deep they stand in one another."""
    found = _IF.findall(_COMMENT.sub("", text))
    depth = deepest = 0
    for word in found:
        depth += {"if": 1, "endif": -1}.get(word, 0)
        deepest = max(deepest, depth)
    return len(found) - found.count("endif"), deepest


def test_ifs_are_counted_where_they_stand() -> None:
    one = "{# {% if a %} #}{% if a %}{% if b %}{% elif c %}{% endif %}{% endif %}"
    assert ifs(one + "{% if d %}{% endif %}") == (4, 2)


def test_no_line_is_too_long_to_be_read() -> None:
    too_long = [
        f"{name}:{at}: {len(line)} characters"
        for name, text in TEXTS.items()
        for at, line in enumerate(text.splitlines(), start=1)
        if len(line) > LONGEST_LINE
    ]
    assert too_long == []


def test_no_template_decides_too_much() -> None:
    """Where this fails, let Python say the state in a word, with a template for each."""
    counted = {name: ifs(text) for name, text in TEXTS.items()}
    too_much = [
        f"{name}: {count} ifs, {deepest} deep"
        for name, (count, deepest) in counted.items()
        if count > MOST_IFS or deepest > DEEPEST_IF
    ]
    assert too_much == []


def names_in_code(source: Path) -> Iterator[tuple[str, bool]]:
    """Names of templates in a module, each with whether it is whole: True for a plain string."""
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if re.fullmatch(r"[\w/]+\.html", node.value):
                yield node.value, True
        elif isinstance(node, ast.JoinedStr) and ast.unparse(node).rstrip("'\"").endswith(".html"):
            yield ast.unparse(node), False


PUT_TOGETHER = {f"studio/views/plans/{name}.py" for name in ("decision", "reasons", "shown")}
"""Modules whose names are put together; tests/studio/plans/test_parts_of_a_plan.py has them all."""


def test_every_template_that_code_names_is_there() -> None:
    root = Path(settings.BASE_DIR)
    put_together = set()
    for app in ("classroom", "inventory", "studio"):
        for source in (root / app).rglob("*.py"):
            for name, whole in names_in_code(source):
                if whole:
                    get_template(name)
                else:
                    put_together.add(source.relative_to(root).as_posix())
    assert put_together == PUT_TOGETHER
