"""Looks at everything but behaviour: style, types, layering, templates, settings."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

CHECKS: tuple[tuple[str, list[str]], ...] = (
    ("style", ["-m", "ruff", "check", "."]),
    ("format", ["-m", "ruff", "format", "--check", "."]),
    ("types", ["-m", "mypy"]),
    ("layering", ["-c", "from importlinter.cli import lint_imports_command as look; look()"]),
    ("templates", ["-m", "djlint", "templates", "--lint", "--quiet"]),
    ("migrations", ["manage.py", "makemigrations", "--check", "--dry-run"]),
    ("deployment", ["manage.py", "check", "--deploy", "--fail-level", "WARNING"]),
)


class Command(BaseCommand):
    help = "Checks style, types, layering, templates, migrations and deployment settings."

    def handle(self, *args: Any, **options: Any) -> None:
        failed = [name for name, words in CHECKS if self._fails(name, words)]
        if failed:
            raise CommandError(f"Not in order: {', '.join(failed)}.")
        self.stdout.write("The house is in order.")

    def _fails(self, name: str, words: list[str]) -> bool:
        self.stdout.write(f"-- {name}")
        environment = {
            **os.environ,
            "BENCHLEDGER_PREPARE": "0",
            "BENCHLEDGER_TLS": "1",  # the deployment check judges a school's real set-up
        }
        done = subprocess.run(
            [sys.executable, *words], cwd=settings.BASE_DIR, env=environment, check=False
        )
        return done.returncode != 0
