"""Brings a backup into an empty installation, then proves its balances."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any, Never

from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import Error

from studio.keeping.refusals import NotKept, NotWhole, Unusable, disk_words, one_line
from studio.keeping.restoring import NotBroughtUp, key_differs, restore


class Command(BaseCommand):
    requires_system_checks: list[str] = []  # it has no pages
    help = (
        "Brings the backup FILE into this empty installation and runs audit_stock. Ends with 1 "
        "when FILE is damaged, a balance does not hold or the database does not answer, with 2 "
        "when FILE cannot be used here."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        try:
            manifest = restore(file)
        except Unusable as error:
            self._end(2, str(error))
        except NotWhole as error:
            self._end(1, *error.faults, "Nothing was brought in.")
        except NotKept as error:
            self._end(1, f"Nothing was brought in. {error}")
        except NotBroughtUp as error:
            self._end(1, str(error))
        except OSError as error:
            self._end(2, disk_words(error, file))
        self.stdout.write(
            f"Brought in: {sum(manifest.tables.values())} rows in {len(manifest.tables)} tables, "
            f"{len(manifest.evidence)} files, the key, as of {manifest.made_at}."
        )
        if key_differs(file):
            self.stdout.write(
                "BENCHLEDGER_SECRET_KEY is another key than the school's: everybody signs in anew. "
                "Take it out of the environment to use the school's own."
            )
        try:
            call_command("audit_stock", stdout=self.stdout, stderr=self.stderr)
        except Error as error:
            said = one_line(str(error))
            self._end(
                1,
                f"The balances were not proved. The database does not answer: {said}. "
                "When it does, run: manage.py audit_stock",
            )

    def _end(self, status: int, *lines: str) -> Never:
        for line in lines:
            self.stderr.write(line)
        raise SystemExit(status)
