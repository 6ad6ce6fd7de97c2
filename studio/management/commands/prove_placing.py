"""`manage.py prove_placing`: a thousand hostile jobs, and every promise that a plan broke."""

from __future__ import annotations

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.core.placing import place
from studio.core.placing.trials.hostile import hostile_job, kind_of
from studio.core.placing.trials.peers import raster_fill
from studio.core.placing.trials.proof import broken_promises
from studio.core.placing.warming import warm_up
from studio.core.verifying import faults
from studio.management.commands.place_pieces import unusable

MOST_JOBS = 1_000_000


class Command(BaseCommand):
    """Exit status 1 when a promise was broken; the job's number makes it again."""

    help = "Place random hostile jobs and judge every plan; nothing may be wrong with any."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--jobs", type=int, default=1000, help="how many (1000)")
        parser.add_argument("--first", type=int, default=0, help="the first job's number (0)")
        parser.add_argument("--rounds", type=int, default=12, help="of the search (12)")
        parser.add_argument("--workers", type=int, default=1)

    def handle(self, *args: Any, **options: Any) -> None:
        if not 0 < options["jobs"] <= MOST_JOBS or options["first"] < 0:
            raise unusable(f"--jobs: 1 to {MOST_JOBS}; --first: a number from 0")
        if not 0 < options["rounds"] <= MOST_JOBS:
            raise unusable(f"--rounds: 1 to {MOST_JOBS}")
        warm_up()
        wrong = pieces = 0
        longest = (0.0, 0)
        for number in range(options["first"], options["first"] + options["jobs"]):
            found, placed, seconds = self._one(number, options)
            pieces += placed
            longest = max(longest, (seconds, number))
            if found:
                wrong += 1
                self.stdout.write(f"job {number} ({kind_of(number)}):")
                for sentence in found[:6]:
                    self.stdout.write(f"  {sentence}")
            done = number - options["first"] + 1
            if done % 100 == 0:
                self.stdout.write(f"{done} jobs, {pieces} pieces placed, {wrong} jobs at fault")
                self.stdout.flush()
        self.stdout.write(
            f"{options['jobs']} jobs, {pieces} pieces placed, {wrong} jobs at fault; "
            f"the longest took {longest[0]:.1f} s (job {longest[1]})"
        )
        if wrong:
            raise CommandError(f"{wrong} plans broke a promise", returncode=1)

    def _one(self, number: int, options: dict[str, Any]) -> tuple[list[str], int, float]:
        """What is wrong with a job's plan, how many pieces lie, and how long it took."""
        job = hostile_job(number)
        started = time.monotonic()
        plan = place(
            job,
            seed=number,
            rounds=options["rounds"],
            workers=options["workers"],
        )
        seconds = time.monotonic() - started
        found = broken_promises(job, plan)
        fill = raster_fill(job)
        wrong = {(fault.piece, fault.copy) for fault in faults(job, fill)}
        # the fill knows nothing of pieces that stand already, nor of cuts
        plain = job.goal == "plan" and not job.fixed and job.parting is None
        if plain and len(fill) - len(wrong) > len(plan.placements):
            found.append("a plain fill of the raster places more pieces")
        return found, len(plan.placements), seconds
