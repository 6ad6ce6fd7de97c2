"""`manage.py translations`: what is not translated yet, and the compiled catalogues."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from classroom.catalogs import make_mo, mo_of, po_of, read_po, wanted, write_entry
from classroom.languages import LANGUAGES


class Command(BaseCommand):
    help = "Compile the translations; with --check only say what is missing or out of date."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--check", action="store_true", help="change nothing")
        parser.add_argument("--missing", action="store_true", help="print what to translate")

    def handle(self, *args: Any, **options: Any) -> None:
        faults = []
        for language in LANGUAGES:
            if language == "en":
                continue
            entries = read_po(po_of(language).read_text(encoding="utf-8"))
            missing = sorted(text for text in wanted() if not entries.get(text))
            left_over = sorted(set(entries) - wanted() - {""})
            for text in missing if options["missing"] else []:
                self.stdout.write(write_entry(text))
            compiled = make_mo(entries)
            if not options["check"]:
                mo_of(language).write_bytes(compiled)
            elif not mo_of(language).exists() or mo_of(language).read_bytes() != compiled:
                faults.append(f"{language}: django.mo is older than django.po")
            faults += [f"{language}: not translated: {text}" for text in missing]
            faults += [f"{language}: nobody asks for: {text}" for text in left_over]
        if faults:
            raise CommandError("\n".join(faults))
        self.stdout.write("Every text is translated.")
