"""`manage.py judge_plan`: what the judge says of any plan, whoever made it."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely
from django.core.management.base import BaseCommand, CommandError

from studio.core.cutting import Job, JobError, Placement, job_from_json, layout_from_json
from studio.core.cutting.formats import HANDS_VERSION, MAX_TOTAL_VERTICES, measures_to_json
from studio.core.verifying import Watch, fault_to_json, measurable
from studio.management.commands.place_pieces import one_line, read_json, unusable

MOST_PAIRS = 40_000
AT_A_TIME = 100


class Command(BaseCommand):
    """Exit status 1 where the plan has a fault. Needs no database and no sign-in."""

    help = "Judge a plan for a job: faults and measures. See studio/core/cutting/README.md."
    requires_system_checks: list[str] = []  # a check may want a database; this needs none

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("job", help="the job, a JSON file; - reads standard input")
        parser.add_argument("plan", help="the plan, or a half-made one; - reads standard input")
        parser.add_argument("--out", help="write the judgement here instead of printing it")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["job"] == options["plan"] == "-":
            raise unusable("plan: standard input is the job's already")
        files = [(name, read_json(name)) for name in (options["job"], options["plan"])]
        try:
            name, data = files[0]
            job = job_from_json(data)
            name, data = files[1]
            placements, cuts = layout_from_json(data)
            check_judgeable(job, placements)
        except JobError as wrong:
            raise unusable(f"{name}: {wrong}") from None
        found = Watch(job).judge(placements, cuts)
        faults = [*found.faults, *found.missing]
        answer = {
            "version": HANDS_VERSION,
            "faults": [fault_to_json(fault) for fault in faults],
            "measures": measures_to_json(found.measures),
        }
        text = json.dumps(answer, indent=1) + "\n"
        if options["out"] is None:
            self.stdout.write(text, ending="")
        else:
            try:
                Path(options["out"]).write_text(text, encoding="utf-8")
            except OSError as wrong:
                raise unusable(f"{options['out']}: cannot be written ({wrong.strerror})") from None
        if faults:
            count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
            raise CommandError(one_line(f"{count}; the first: {faults[0].message}"), returncode=1)


def check_judgeable(job: Job, placements: Sequence[Placement]) -> None:
    """Refuse a heap of pieces, which would be judged for hours; JobError says how many."""
    lie = measurable(job, placements)
    outlines = [job.wanted_by_id[p.piece].outline for p in lie]
    vertices = sum(int(shapely.get_num_coordinates(outline)) for outline in outlines)
    if vertices > MAX_TOTAL_VERTICES:
        raise JobError(
            "placements", f"{vertices} vertices in all; {MAX_TOTAL_VERTICES} is the most"
        )
    for metal in job.metal:
        boxes = [
            shapely.box(*p.lay(outline).bounds)
            for p, outline in zip(lie, outlines, strict=True)
            if p.metal == metal.id
        ]
        tree = shapely.STRtree(boxes)
        pairs = 0
        for first in range(0, len(boxes), AT_A_TIME):
            pairs += tree.query(boxes[first : first + AT_A_TIME]).shape[1]
            if pairs > 2 * MOST_PAIRS:
                raise JobError("placements", f"more than {MOST_PAIRS} pairs lie over each other")
