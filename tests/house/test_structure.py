"""The layering of the house, where the import contracts cannot see it."""

from __future__ import annotations

import ast
import io
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import call_command

ORDER = ("classroom", "inventory", "studio")
ROOT = Path(settings.BASE_DIR)
ASKS_A_TABLE = re.compile(
    r"\.objects\b|\._(default|base)_manager\b|\bget_(object|list)_or_404\(\s*(\w+\.)*[A-Z]"
)
MOST_FILES = 21  # some twenty and the `__init__`
MAY_BE_LARGE = {
    "static/img": "small pictures, taken by a name that templates put together of kind and word",
}


def test_the_judge_is_kept_from_every_part_of_the_search() -> None:
    """The contract names the search as a whole, so that no new part of it can be left out."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (contract,) = (
        one
        for one in told["tool"]["importlinter"]["contracts"]
        if "studio.core.verifying" in one.get("source_modules", ())
    )
    assert contract["type"] == "forbidden"
    assert contract["source_modules"] == ["studio.core.verifying", "studio.core.cutting"]
    assert contract["forbidden_modules"] == ["studio.core.placing"]
    assert "ignore_imports" not in contract
    assert "allow_indirect_imports" not in contract


def test_the_judge_knows_nothing_but_jobs_and_plans() -> None:
    """What it took from elsewhere might be wrong in the search and in the judge alike.

    Uniting areas is not of that kind: `studio.core.areas` is plane geometry that proves itself.
    """
    own = ("studio.core.verifying", "studio.core.cutting", "studio.core.areas")
    others = [
        f"{source.relative_to(ROOT)}: {name}"
        for source in (ROOT / "studio" / "core" / "verifying").rglob("*.py")
        for name in _imported(source)
        if name.split(".")[0] in ORDER
        and not any(name == one or name.startswith(f"{one}.") for one in own)
    ]
    assert others == []


def test_the_tool_for_areas_knows_nothing_of_the_house() -> None:
    """Search and judge both use it: there is nothing of either in it that they could share."""
    names = _imported(ROOT / "studio" / "core" / "areas.py")
    assert [name for name in names if name.split(".")[0] in ORDER] == []


def _imported(source: Path) -> Iterator[str]:
    """Full names of the modules (and what is taken from a package) that a file imports."""
    package = source.relative_to(ROOT).with_suffix("").parts[:-1]
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) + 1 - node.level] if node.level else ()
            whole = ".".join((*above, *filter(None, [node.module])))
            yield from (f"{whole}.{one.name}" for one in node.names)


@pytest.mark.parametrize(
    "line",
    [
        "plan = CutPlan._base_manager.get(pk=1)",
        "plan = get_object_or_404(CutPlan, pk=pk)",
        "rows = get_list_or_404(models.CutPlan, pk=pk)",
        "plan = get_object_or_404(\n    CutPlan, pk=pk\n)",
    ],
)
def test_a_view_that_asks_a_table_is_seen(line: str) -> None:
    assert ASKS_A_TABLE.search(line)


@pytest.mark.parametrize("top", [*ORDER, "tests", "templates", "static"])
def test_a_folder_holds_what_one_look_takes_in(top: str) -> None:
    """Some twenty files side by side; beyond, a room is divided by what its files are about."""
    folders = [ROOT / top, *(ROOT / top).rglob("*/")]
    full = {
        str(folder.relative_to(ROOT)): count
        for folder in folders
        if folder.name not in ("__pycache__", "migrations")
        and str(folder.relative_to(ROOT)) not in MAY_BE_LARGE
        and (count := sum(one.is_file() for one in folder.iterdir())) > MOST_FILES
    }
    assert full == {}


@pytest.mark.parametrize("app", ORDER)
def test_views_ask_queries_and_steps_never_the_tables(app: str) -> None:
    """A manager or a whole model asked in a view is a scope that no test of scopes sees."""
    found = [
        f"{source.relative_to(ROOT)}:{text.count(chr(10), 0, asked.start()) + 1}"
        for source in (ROOT / app / "views").rglob("*.py")
        for text in [source.read_text(encoding="utf-8")]
        for asked in ASKS_A_TABLE.finditer(text)
    ]
    assert found == []


def test_foreign_keys_point_one_way() -> None:
    """A foreign key named by a string slips past the import contracts."""
    for height, label in enumerate(ORDER):
        for model in apps.get_app_config(label).get_models(include_auto_created=True):
            for field in model._meta.get_fields():
                if field.auto_created or field.related_model is None:
                    continue
                target = field.related_model._meta.app_label  # type: ignore[union-attr]
                assert target in ORDER[: height + 1], f"{model.__name__}.{field.name} -> {target}"


@pytest.mark.django_db
def test_migrations_say_what_the_models_say() -> None:
    call_command("makemigrations", "--check", "--dry-run", stdout=io.StringIO())


def test_the_deployment_check_is_clean(monkeypatch: pytest.MonkeyPatch) -> None:
    """As README's "In a school" sets it up: behind TLS, with a key of its own."""
    import os
    import subprocess
    import sys

    environment = {
        **{name: value for name, value in os.environ.items() if not name.startswith("DJANGO_")},
        "BENCHLEDGER_TLS": "1",
        "BENCHLEDGER_PREPARE": "0",
        "BENCHLEDGER_HOSTS": "bench.example.org",
        "DJANGO_SETTINGS_MODULE": "studio.config.settings",
    }
    done = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_the_top_level_holds_only_what_was_agreed() -> None:
    agreed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "manage.py",
        "pyproject.toml",
        "requirements.txt",
        "studio",
        "classroom",
        "inventory",
        "tests",
        "templates",
        "static",
    }
    made = {"var", "test-results"}
    seen = {entry.name for entry in ROOT.iterdir() if not entry.name.startswith(".")}
    assert seen - made == agreed


def test_a_sentence_begins_large_and_leaves_names_as_they_are() -> None:
    """`capitalize` makes "B&S" small, and "copper, sheet A" with it; `capfirst` does not."""
    told = re.compile(r"\.capitalize\(\)|\|title\b|text-transform:\s*capitalize")
    kinds = {"classroom": "*.py", "inventory": "*.py", "studio": "*.py", "templates": "*.html"}
    found = [
        str(source.relative_to(ROOT))
        for folder, kind in (*kinds.items(), ("static", "*.css"))
        for source in (ROOT / folder).rglob(kind)
        if told.search(source.read_text(encoding="utf-8"))
    ]
    assert found == []
