"""The tests' own house: what is shared has one home, and no test leans on another."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from django.conf import settings

TESTS = Path(settings.BASE_DIR) / "tests"


@cache
def sources() -> dict[Path, ast.Module]:
    return {
        path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(TESTS.rglob("*.py"))
    }


def imported(path: Path, tree: ast.Module) -> Iterator[str]:
    """Every module, and everything taken out of one, that a file of the tests names."""
    room = ["tests", *path.relative_to(TESTS).parent.parts]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = room[: len(room) - node.level + 1] if node.level else []
            module = ".".join([*above, *filter(None, [node.module])])
            yield from (f"{module}.{name.name}" for name in node.names)


def leans_on_a_test(name: str) -> bool:
    parts = name.split(".")
    return parts[0] == "tests" and any(part.startswith("test_") for part in parts)


def test_an_import_is_seen_however_it_is_written() -> None:
    path = TESTS / "classroom" / "people" / "test_one.py"
    ways = (
        "from .test_two import made",
        "from . import test_two",
        "from ..safety.test_two import made",
        "from tests.classroom import test_two",
        "import tests.classroom.test_two",
        "def late():\n    from tests.classroom.test_two import made",
    )
    for way in ways:
        assert any(map(leans_on_a_test, imported(path, ast.parse(way)))), way
    for way in ("from .making import made", "from tests.people import Cast", "import test_two"):
        assert not any(map(leans_on_a_test, imported(path, ast.parse(way)))), way


def test_no_test_is_imported() -> None:
    """What two tests share stands in a plain module beside them, or higher up."""
    found = [
        f"{path.relative_to(TESTS)}: {name}"
        for path, tree in sources().items()
        for name in imported(path, tree)
        if leans_on_a_test(name)
    ]
    assert found == []


def test_no_fixture_is_written_down_twice() -> None:
    """The same name and the same body in two files: its home is the conftest above both."""
    homes = defaultdict(list)
    for path, tree in sources().items():
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and any(map(is_fixture, node.decorator_list)):
                homes[node.name, body_of(node)].append(str(path.relative_to(TESTS)))
    assert {key[0]: files for key, files in homes.items() if len(files) > 1} == {}


def is_fixture(decorator: ast.expr) -> bool:
    called = decorator.func if isinstance(decorator, ast.Call) else decorator
    return ast.unparse(called) in {"pytest.fixture", "fixture"}


def body_of(node: ast.FunctionDef) -> str:
    """What it asks for and does; not what it says of itself."""
    said = 1 if ast.get_docstring(node) else 0
    asked = [argument.arg for argument in node.args.args]
    return "\n".join([*asked, *map(ast.unparse, node.body[said:])])


def test_every_room_of_tests_is_a_package() -> None:
    """Two files of one name in rooms that are none would be one module to the runner."""
    bare = {str(path.parent.relative_to(TESTS)) for path in sources()} - {
        str(path.parent.relative_to(TESTS)) for path in sources() if path.name == "__init__.py"
    }
    assert bare == set()
