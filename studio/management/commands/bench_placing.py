"""`manage.py bench_placing`: our plans beside simpler ways to place, in the same minute."""

from __future__ import annotations

import math
import resource
import time
from argparse import ArgumentParser
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from shapely.geometry import Polygon, box

from studio.core.placing import Job, Metal, Order, Placement, Plan, place
from studio.core.placing.compiled import warm_up
from studio.core.placing.peers import raster_fill, shelves, strip_library
from studio.core.placing.samples import class_jobs, many_stars
from studio.core.verifying import faults, measure
from studio.management.commands.place_pieces import read_json, unusable

DENSITIES = {
    # mean of 50 runs of 1,200 s each, percent: Gardeyn, Vanden Berghe & Wauters, "An open-source
    # heuristic to reboot 2D nesting research", arXiv:2509.13329, 2025
    **{"albano": 89.46, "blaz1": 84.67, "dagli": 89.23, "fu": 92.25, "jakobs1": 89.08},
    **{"jakobs2": 84.89, "mao": 86.09, "marques": 90.91, "shapes0": 68.58, "shapes1": 75.74},
    **{"shirts": 89.72, "swim": 78.30, "trousers": 91.79},
    # puzzles with a known perfect solution
    **{"dighe1": 100.0, "dighe2": 100.0},
}


GOAL = frozenset(
    ("swim", "shirts", "trousers", "albano", "marques", "jakobs1", "fu", "mao", "dagli", "shapes0")
)
"""The instances that the geometric mean is taken over; the puzzles would flatter it."""


class Command(BaseCommand):
    """Prints ratios side by side; on a busy machine only they mean anything, never the times."""

    help = "Measure the placing engine against a raster fill, shelves and published densities."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seconds", type=float, default=8.0, help="for each plan (8)")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--seeds", type=int, default=1, help="strips: as many seeds each (1)")
        parser.add_argument("--workers", type=int, default=2)
        parser.add_argument("--only", default="", help="only jobs whose name has this in it")
        parser.add_argument("--strips", help="a folder of strip instances (JSON); off without it")
        parser.add_argument("--growth", action="store_true", help="10 to 300 pieces instead")

    def handle(self, *args: Any, **options: Any) -> None:
        if not (math.isfinite(options["seconds"]) and 0.0 < options["seconds"] <= 3600.0):
            raise unusable("--seconds: a number above 0, at most 3600, is wanted")
        warm_up()
        if options["growth"]:
            self._growth(options)
        elif options["strips"] is not None:
            self._strips(options)
        else:
            self._class_jobs(options)

    def _run(self, job: Job, options: dict[str, Any]) -> Plan:
        plan = place(
            job, seconds=options["seconds"], seed=options["seed"], workers=options["workers"]
        )
        wrong = faults(job, plan.placements)
        if wrong:
            raise unusable(f"the judge faults the plan: {wrong[0].message}")
        return plan

    def _class_jobs(self, options: dict[str, Any]) -> None:
        self.stdout.write("| job | pieces | fill | shelves | ours | ours / fill | ours / shelves |")
        self.stdout.write("|---|---|---|---|---|---|---|")
        against_fill = []
        for name, job in class_jobs().items():
            if options["only"] not in name:
                continue
            fill, rows = _judged(job, raster_fill(job)), _judged(job, shelves(job))
            plan = self._run(job, options)
            ours = plan.measures.cost
            whole = len(plan.placements) == job.copies
            by_fill = ours / fill[0] if whole and fill[1] == job.copies else math.nan
            by_rows = ours / rows[0] if whole and rows[1] == job.copies else math.nan
            if math.isfinite(by_fill):
                against_fill.append(by_fill)
            self.stdout.write(
                f"| {name} | {len(plan.placements)}/{job.copies} | {fill[0]:.2f} ({fill[1]}) | "
                f"{rows[0]:.2f} ({rows[1]}) | {ours:.2f} | {by_fill:.3f} | {by_rows:.3f} |"
            )
        self.stdout.write(f"geometric mean ours / fill: {_mean(against_fill):.3f}")

    def _strips(self, options: dict[str, Any]) -> None:
        folder = Path(options["strips"])
        files = sorted(folder.glob("*.json")) if folder.is_dir() else []
        if not files:
            raise unusable(f"{folder}: no folder with JSON files")
        self.stdout.write(
            "| strip | seed | first | ours | library | published | ours / library | ours / publ. |"
        )
        self.stdout.write("|---|---|---|---|---|---|---|---|")
        ratios = []
        turn = 0
        for file in files:
            if file.stem not in DENSITIES or options["only"] not in file.stem:
                continue
            job, area, height = strip_job(read_json(str(file)))
            for seed in range(options["seed"], options["seed"] + options["seeds"]):
                own = {**options, "seed": seed}
                turn += 1
                ours_first = turn % 2 == 1  # whoever is first finds the machine as it was left
                ours = self._density(job, area, height, own) if ours_first else math.nan
                length = strip_library(job, own["seconds"], seed, own["workers"])
                peer = math.nan if length is None else 100.0 * area / (height * length)
                if not ours_first:
                    ours = self._density(job, area, height, own)
                if file.stem in GOAL and math.isfinite(ours / peer):
                    ratios.append(ours / peer)
                known = DENSITIES[file.stem]
                self.stdout.write(
                    f"| {file.stem} | {seed} | {'ours' if ours_first else 'library'} | "
                    f"{ours:.2f} | {peer:.2f} | {known:.2f} | {ours / peer:.3f} | "
                    f"{ours / known:.3f} |"
                )
        self.stdout.write(
            f"geometric mean ours / library: {_mean(ratios):.4f} ({len(ratios)} runs)"
        )

    def _density(self, job: Job, area: float, height: float, options: dict[str, Any]) -> float:
        """Percent of the strip that our plan fills; NaN where a piece is left over."""
        plan = self._run(job, options)
        if plan.unplaced:
            return math.nan
        return 100.0 * area / (height * max(plan.measures.strip_length_mm, 1e-9))

    def _growth(self, options: dict[str, Any]) -> None:
        self.stdout.write(
            "| pieces | first plan, s | processor, s | placed | rounds | money | last / first | "
            "memory, MB |"
        )
        self.stdout.write("|---|---|---|---|---|---|---|---|")
        for count in (10, 20, 40, 80, 150, 300):
            job = many_stars(count)
            first = First()
            plan = place(
                job,
                seconds=options["seconds"],
                seed=options["seed"],
                workers=options["workers"],
                on_progress=first.note,
            )
            wrong = faults(job, plan.placements)
            if wrong:
                raise unusable(f"the judge faults the plan: {wrong[0].message}")
            cost = plan.measures.cost
            self.stdout.write(
                f"| {count} | {first.seconds:.2f} | {first.processor:.2f} | "
                f"{len(plan.placements)} | {plan.rounds} | {cost:.2f} | {cost / first.cost:.3f} | "
                f"{peak_memory_mb():.0f} |"
            )


class First:
    """When the first plan was there that places everything, and what it cost."""

    def __init__(self) -> None:
        self.began = time.monotonic()
        self.processor_began = time.process_time()
        self.seconds = self.processor = self.cost = math.nan

    def note(self, plan: Plan) -> bool:
        if plan.placements and not plan.unplaced and math.isnan(self.seconds):
            self.seconds = time.monotonic() - self.began
            self.processor = time.process_time() - self.processor_began
            self.cost = plan.measures.cost
        return True


def peak_memory_mb() -> float:
    """The most memory that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def strip_job(data: object) -> tuple[Job, float, float]:
    """A strip instance of the literature as a job without kerf; its net area and height."""
    try:
        assert isinstance(data, dict)
        height = float(data["strip_height"])
        orders, area, longest = [], 0.0, 0.0
        for number, item in enumerate(data["items"]):
            outline = Polygon(item["polygon"])
            turns = item["allowed_orientations_deg"]
            count = int(item["demand"])
            orders.append(
                Order(str(number), outline, count, None if turns is None else tuple(turns))
            )
            area += outline.area * count
            x0, y0, x1, y1 = outline.bounds
            longest = max(longest, x1 - x0, y1 - y0)
    except (AssertionError, KeyError, TypeError, ValueError):
        raise unusable("not a strip instance: strip_height and items are wanted") from None
    length = max(3.0 * area / height, 2.0 * longest)
    metal = Metal("strip", box(0.0, 0.0, length, height))
    return Job((metal,), tuple(orders), kerf_mm=0.0, goal="strip"), area, height


def _judged(job: Job, placements: list[Placement]) -> tuple[float, int]:
    wrong = faults(job, placements)
    if wrong:
        raise unusable(f"the judge faults a peer's plan: {wrong[0].message}")
    return measure(job, placements)[0].cost, len(placements)


def _mean(ratios: Iterable[float]) -> float:
    logs = [math.log(ratio) for ratio in ratios]
    return math.exp(sum(logs) / len(logs)) if logs else math.nan
