"""The state of a plan is changed by `studio.steps` alone, in whatever way it is written."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
STEPS = ("studio", "steps")
READS = {"filter", "exclude", "get", "Q", "When"}
"""What may be asked with `state=`; whatever else takes it, is taken for a write."""
WRITES = {
    *("update", "create", "get_or_create", "update_or_create", "bulk_create", "bulk_update"),
    *("save", "setattr", "__setattr__", "CutPlan"),
}
"""What must not speak of "state" anywhere in its arguments."""
WRITES |= {f"a{name}" for name in WRITES}

OF_SOMETHING_ELSE = {
    "inventory/auditing.py": "a stock piece, replayed from its movements",
    "inventory/rack/counting.py": "a count of the rack",
    "inventory/rack/stock.py": "a stock piece",
    "studio/core/placing/strips/forms.py": "tables of the search",
    "studio/erasing.py": "a pattern, set aside",
    "studio/running/errands/lease.py": "an errand",
    "studio/running/placing/reaping.py": "a placing job",
}
"""Files that write a state which is no plan's; a line that names a plan is refused there too."""


def writes(tree: ast.AST) -> Iterator[ast.AST]:
    """Every node that writes a state, or may do so."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            if node.attr == "state" and not isinstance(node.ctx, ast.Load):
                yield node
        elif isinstance(node, ast.Subscript):
            if not isinstance(node.ctx, ast.Load) and _says_state(node.slice) and _is_inside(node):
                yield node
        elif isinstance(node, ast.Call):
            name = ast.unparse(node.func).rpartition(".")[2]
            given = [*node.args, *(word.value for word in node.keywords)]
            by_name = any(word.arg == "state" for word in node.keywords)
            if (by_name and name not in READS) or (name in WRITES and any(map(_says_state, given))):
                yield node


def _says_state(node: ast.AST) -> bool:
    return any(isinstance(one, ast.Constant) and one.value == "state" for one in ast.walk(node))


def _is_inside(node: ast.Subscript) -> bool:
    """`plan.__dict__["state"]` or `vars(plan)["state"]`, not a dictionary of somebody's own."""
    return ast.unparse(node.value).endswith("__dict__") or ast.unparse(node.value).startswith(
        "vars("
    )


@pytest.mark.parametrize("app", ["classroom", "inventory", "studio"])
def test_only_steps_change_the_state_of_a_plan(app: str) -> None:
    """A state written elsewhere has no history row, no guard and no refusal of its own."""
    found = []
    exempted = set()
    for source in (ROOT / app).rglob("*.py"):
        where = source.relative_to(ROOT)
        if where.parts[:2] == STEPS or "migrations" in where.parts:
            continue
        text = source.read_text(encoding="utf-8")
        for node in writes(ast.parse(text)) if "state" in text else ():
            if str(where) in OF_SOMETHING_ELSE and "plan" not in ast.unparse(node).lower():
                exempted.add(str(where))
            else:
                found.append(f"{where}:{getattr(node, 'lineno', '?')}: {ast.unparse(node)}")
    assert found == []
    assert exempted == {name for name in OF_SOMETHING_ELSE if name.startswith(app)}


@pytest.mark.parametrize(
    "line",
    [
        "CutPlan.objects.filter(pk=1).update(state=CutPlan.State.CLOSED)",
        "found.update(state=State.CLOSED)",
        "found.update(state=state)",
        'found.update(**{"state": new})',
        "found.update(**dict(state=new))",
        "CutPlan(course=course, state=State.PROPOSED)",
        "models.CutPlan(course=course, state=new)",
        "Made(course=course, state=new)",
        "plans.create(state=new)",
        "plans.get_or_create(pk=1, state=new)",
        'plans.update_or_create(pk=1, defaults={"state": new})',
        'plans.bulk_update(found, ["state"])',
        'plans.bulk_update(found, fields=("settled_at", "state"))',
        'one.save(update_fields=["state"])',
        "await plans.aupdate(state=new)",
        "one.state = new",
        "self.plan.state = new",
        "one.state: str = new",
        "one.state, other = new, old",
        "one.state += new",
        "for one.state in states: ...",
        'setattr(one, "state", new)',
        'object.__setattr__(one, "state", new)',
        'one.__dict__["state"] = new',
        'vars(one)["state"] = new',
        "replace(one, state=new)",
    ],
)
def test_a_write_is_seen_however_it_is_spelt(line: str) -> None:
    assert list(writes(ast.parse(line)))


@pytest.mark.parametrize(
    "line",
    [
        "plans.filter(state=State.CLOSED).update(seen=True)",
        "plans.exclude(state=State.CLOSED)",
        "Q(state=new) | Q(plan__state=new)",
        'row = {"state": plan.state}',
        'row["state"] = "locked"',
        "shown = one.state",
    ],
)
def test_what_only_reads_is_let_be(line: str) -> None:
    assert not list(writes(ast.parse(line)))
