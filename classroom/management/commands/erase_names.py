"""`manage.py erase_names`: for a yearly run by the machine itself; the page does the same."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from classroom.erasing import due, erase_due
from classroom.models import School


class Command(BaseCommand):
    help = "Erase students' names once each school's years after their last course are over."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only count, change nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        for school in School.objects.order_by("pk"):
            with timezone.override(school.time_zone):
                if options["dry_run"]:
                    count, word = len(due(school, timezone.localdate())), "due"
                else:
                    count, word = len(erase_due(school, acting=None)), "erased"
            self.stdout.write(f"{school}: {count} names {word}")
