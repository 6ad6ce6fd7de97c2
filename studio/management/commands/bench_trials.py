"""`manage.py bench_trials`: how soon an upload is answered with its first cut plan."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.loading.figures import percentile
from studio.loading.installation import ROOT, Unmeasured, installation
from studio.loading.trial_clocks import Clocked, clock_all

GOAL_SECONDS = 2.0
MOST_STUDENTS, MOST_SECONDS = 100, 600.0
WARMING = 2
PATTERNS = ("boat", "fish", "gull", "knot", "lighthouse", "oar_earrings", "pennant", "shell")
"""Of the demo's patterns those that have no stop under the brief of this class."""


class Command(BaseCommand):
    help = (
        "Starts an installation of its own, lets a class upload patterns within a minute, and "
        "prints how long it takes until each sees its first cut plan."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--students", type=int, default=24, help="uploads (24)")
        parser.add_argument("--seconds", type=float, default=60.0, help="within so long (60)")

    def handle(self, *args: Any, **options: Any) -> None:
        students, seconds = options["students"], options["seconds"]
        if not 1 <= students <= MOST_STUDENTS or not 0 <= seconds <= MOST_SECONDS:
            raise CommandError("1 to 100 students within 0 to 600 s are wanted", returncode=2)
        files = [ROOT / "studio/demo/patterns" / f"{name}.svg" for name in PATTERNS]
        try:
            with installation("", placing_seconds=10) as own:
                class_ = own.made("studio.loading.uploading", str(students + WARMING))
                with own.served() as server:
                    clock_all(server.port, class_[:WARMING], files, 0.0)  # warm
                    found = clock_all(server.port, class_[WARMING:], files, seconds)
        except Unmeasured as error:
            raise CommandError(f"Nothing was measured: {error}.", returncode=2) from error
        well = [one for one in found if not one.wrong]
        self.stdout.write(_table(well))
        for one in found:
            if one.wrong:
                self.stderr.write(one.wrong)
        if len(well) < len(found):
            raise CommandError(f"{len(found) - len(well)} uploads got no layout.")


def _table(well: list[Clocked]) -> str:
    rows = [
        f"| {len(well)} uploads | p50, s | p95, s | p95 / {GOAL_SECONDS:g} s |",
        "|---|---|---|---|",
    ]
    for name, values in (
        ("from the upload on", [one.from_upload for one in well]),
        ("from the pattern on", [one.from_pattern for one in well]),
    ):
        half, most = percentile(values, 0.5), percentile(values, 0.95)
        rows.append(f"| {name} | {half:.2f} | {most:.2f} | {most / GOAL_SECONDS:.2f} |")
    return "\n".join(rows)
