"""The layering of the house, where the import contracts cannot see it."""

from __future__ import annotations

import io
import re
import tomllib
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.core.management import call_command

ORDER = ("classroom", "inventory", "studio")
ROOT = Path(settings.BASE_DIR)


def test_the_judge_is_kept_from_every_part_of_the_search() -> None:
    """The import contract names them one by one, and a new part is easily left out."""
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (contract,) = (
        one
        for one in told["tool"]["importlinter"]["contracts"]
        if one["source_modules" if "source_modules" in one else "layers"]
        == ["studio.core.verifying"]
    )
    parts = {path.stem for path in (ROOT / "studio/core/placing").glob("*.py")}
    forms = {"__init__", "job", "formats"}  # what goes in and comes out: the judge needs these
    wanted = {f"studio.core.placing.{part}" for part in parts - forms}
    assert set(contract["forbidden_modules"]) == wanted


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
