"""`manage.py place_pieces`: the engine at the command line, for scripts and outside checks."""

from __future__ import annotations

import json
import math
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.core.cutting import JobError, job_from_json, plan_to_json
from studio.core.placing import place

MAX_BYTES = 64 * 1024 * 1024
MAX_SECONDS, USUAL_SECONDS = 3600.0, 10.0


class Command(BaseCommand):
    """Reads a job as JSON, prints the plan as JSON. Needs no database and no sign-in."""

    help = "Place pieces on metal: reads a job, prints the plan. See studio/core/cutting/README.md."
    requires_system_checks: list[str] = []  # a check may want a database; this needs none

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("job", help="the job, a JSON file; - reads standard input")
        parser.add_argument(
            "--seconds", type=float, help="time to search (10; with --rounds none but these)"
        )
        parser.add_argument("--seed", type=int, default=1, help="which chance to follow (1)")
        parser.add_argument("--workers", type=int, default=1, help="threads to search with (1)")
        parser.add_argument("--rounds", type=int, help="stop after so many rounds of the search")
        parser.add_argument("--out", help="write the plan here instead of printing it")

    def handle(self, *args: Any, **options: Any) -> None:
        seconds = options["seconds"]
        if seconds is None:  # as many rounds as asked for, on a busy machine too
            seconds = USUAL_SECONDS if options["rounds"] is None else MAX_SECONDS
        if not (math.isfinite(seconds) and 0.0 < seconds <= MAX_SECONDS):
            raise unusable(f"--seconds: a number above 0, at most {MAX_SECONDS:g}, is wanted")
        if not 1 <= options["workers"] <= 64:
            raise unusable("--workers: a number from 1 to 64 is wanted")
        if not abs(options["seed"]) < 2**63:
            raise unusable("--seed: a whole number within 63 bits is wanted")
        if options["rounds"] is not None and not 1 <= options["rounds"] <= 10**9:
            raise unusable("--rounds: a whole number of at least 1 is wanted")
        data = read_json(options["job"])
        try:
            plan = place(
                job_from_json(data),
                seconds=seconds,
                seed=options["seed"],
                workers=options["workers"],
                rounds=options["rounds"],
            )
        except JobError as wrong:  # also where no cuts part what stands
            raise unusable(f"{options['job']}: {wrong}") from None
        text = json.dumps(plan_to_json(plan), indent=1) + "\n"
        if options["out"] is None:
            self.stdout.write(text, ending="")
            return
        try:
            Path(options["out"]).write_text(text, encoding="utf-8")
        except OSError as wrong:
            raise unusable(f"{options['out']}: cannot be written ({wrong.strerror})") from None


def read_json(name: str) -> object:
    """The JSON in a file or, for "-", on standard input; CommandError with status 2 if none."""
    try:
        if name == "-":
            raw = sys.stdin.buffer.read(MAX_BYTES + 1)
        else:
            with Path(name).open("rb") as file:
                raw = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as wrong:
        reason = getattr(wrong, "strerror", None) or "not a usable file name"
        raise unusable(f"{name}: cannot be read ({reason})") from None
    if len(raw) > MAX_BYTES:
        raise unusable(f"{name}: larger than {MAX_BYTES // 1024**2} MB")
    try:
        return json.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise unusable(f"{name}: not UTF-8 text") from None
    except json.JSONDecodeError as wrong:
        where = f"line {wrong.lineno}, column {wrong.colno}"
        raise unusable(f"{name}: not JSON ({wrong.msg}, {where})") from None
    except (RecursionError, ValueError):
        raise unusable(f"{name}: JSON nested or numbers written beyond all reason") from None


def unusable(message: str) -> CommandError:
    """One line on standard error and exit status 2."""
    return CommandError(one_line(message), returncode=2)


def one_line(message: str) -> str:
    """What a message says, also where a name in it has line breaks."""
    return " ".join(message.split())
