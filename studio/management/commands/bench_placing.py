"""`manage.py bench_placing`: our plans beside simpler ways to place, in the same minute."""

from __future__ import annotations

import math
import random
import resource
import time
from argparse import ArgumentParser
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from studio.core.cutting import Hands, Job, Placement, Plan
from studio.core.cutting.job import Cut, CutWay, Goal
from studio.core.placing import place
from studio.core.placing.trials.peers import raster_fill, shelves
from studio.core.placing.trials.samples import class_jobs, many_stars, shared_job, tight_jobs
from studio.core.placing.trials.strip_folder import (
    INDEX,
    FolderError,
    KnownStrip,
    StripFolder,
    strip_folder,
)
from studio.core.placing.warming import warm_up
from studio.core.verifying import Watch, faults, measure
from studio.management.commands.place_pieces import read_json, unusable

MOST_ROUNDS = 10**9
CLASSES = (6, 12, 20, 30)
CUT_WAYS: tuple[CutWay, ...] = ("shear", "saw")
GOALS: tuple[Goal, ...] = ("plan", "strip")
MOST_MOVES = 100_000
NUDGE_MM = 5.0
SURE_HAND = Hands(gap_mm=0.3, shared_mm=0.3)
GETTING_SURER = Hands(gap_mm=1.0, shared_mm=0.5)
FIRST_PIECES = Hands(gap_mm=2.0, shared_mm=0.7)
THREE_HANDS = (SURE_HAND, GETTING_SURER, FIRST_PIECES)


class Command(BaseCommand):
    """Prints ratios side by side; on a busy machine only they mean anything, never the times."""

    help = "Measure the placing engine beside a raster fill, shelves and what is known of strips."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seconds", type=float, default=8.0, help="for each plan (8)")
        parser.add_argument("--rounds", type=int, help="so many for each plan, not seconds")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--seeds", type=int, default=1, help="strips: as many seeds each (1)")
        parser.add_argument("--workers", type=int, default=2)
        parser.add_argument("--only", default="", help="only jobs whose name has this in it")
        parser.add_argument("--strips", help="a folder of strip jobs and its INDEX.json")
        parser.add_argument(
            "--just-enough",
            type=float,
            metavar="SHARE",
            help="metal that hardly suffices: strips at such a share of the published mean "
            "density (0.92), class jobs at so many times the share that is hard (1)",
        )
        parser.add_argument("--growth", action="store_true", help="10 to 300 pieces instead")
        parser.add_argument(
            "--parting", action="store_true", help="instead: what a blank for each student costs"
        )
        parser.add_argument("--gaps", action="store_true", help="instead: what a wider gap costs")
        parser.add_argument(
            "--moves", type=int, help="instead: how long the judge takes after so many moves"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not (math.isfinite(options["seconds"]) and 0.0 < options["seconds"] <= 3600.0):
            raise unusable("--seconds: a number above 0, at most 3600, is wanted")
        if options["rounds"] is not None and not 1 <= options["rounds"] <= MOST_ROUNDS:
            raise unusable("--rounds: a whole number of at least 1 is wanted")
        share = options["just_enough"]
        if share is not None and not 0.1 <= share <= 1.1:
            raise unusable("--just-enough: a share of 0.1 to 1.1 is wanted")
        if options["moves"] is not None and not 1 <= options["moves"] <= MOST_MOVES:
            raise unusable(f"--moves: 1 to {MOST_MOVES}")
        folder = None if options["strips"] is None else folder_of(options["strips"])
        warm_up()
        if options["moves"] is not None:
            self._moves(options)
        elif options["gaps"]:
            self._gaps(options)
        elif options["parting"]:
            self._parting(options)
        elif options["growth"]:
            self._growth(options)
        elif share is not None:
            self._just_enough(folder, share, options)
        elif folder is not None:
            self._strips(folder, options)
        else:
            self._class_jobs(options)

    def _run(
        self,
        job: Job,
        options: dict[str, Any],
        on_progress: Callable[[Plan], bool] | None = None,
    ) -> Plan:
        """Our plan: within the seconds, or after the rounds where a number is asked for."""
        plan = place(
            job,
            seconds=options["seconds"] if options["rounds"] is None else None,
            rounds=options["rounds"],
            seed=options["seed"],
            workers=options["workers"],
            on_progress=on_progress,
        )
        _without_fault(job, plan.placements, plan.cuts)
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

    def _gaps(self, options: dict[str, Any]) -> None:
        """The class jobs for three hands: metal used up and saw line against the first's."""
        heads = [f"{hands.gap_mm:g} mm: placed, metal, saw line, money" for hands in THREE_HANDS]
        self.stdout.write(f"| job | pieces | {' | '.join(heads)} |")
        self.stdout.write("|---|---|---|---|---|")
        against: dict[float, list[tuple[float, float, float]]] = {}
        for name, plain in class_jobs().items():
            if options["only"] not in name:
                continue
            cells, first = [], None
            for hands in THREE_HANDS:
                job = replace(plain, hands=hands, edge_margin_mm=2.0, worth="two")
                plan = self._run(job, options)
                found = plan.measures
                figures = (found.consumed_mm2, found.saw_line_mm, found.cost)
                first = first or figures
                metal, saw, money = (a / b for a, b in zip(figures, first, strict=True))
                against.setdefault(hands.gap_mm, []).append((metal, saw, money))
                cells.append(f"{len(plan.placements)}, {metal:.3f}, {saw:.3f}, {money:.3f}")
            self.stdout.write(f"| {name} | {plain.copies} | {' | '.join(cells)} |")
        for gap, ratios in against.items():
            means = ", ".join(f"{_mean(list(each)):.3f}" for each in zip(*ratios, strict=True))
            self.stdout.write(f"geometric means at {gap:g} mm (metal, saw line, money): {means}")

    def _parting(self, options: dict[str, Any]) -> None:
        """Classes parted by shear and by saw, against the undivided plan of the same pieces."""
        self.stdout.write(
            "| students | cut by | placed | undivided | metal, mm² | undivided, mm² | "
            "metal / undivided | money / undivided | cuts | rounds |"
        )
        self.stdout.write("|---|---|---|---|---|---|---|---|---|---|")
        against: dict[CutWay, list[float]] = {way: [] for way in CUT_WAYS}
        for groups in CLASSES:
            if options["only"] not in str(groups):
                continue
            whole = self._run(shared_job(groups), options)
            for way in CUT_WAYS:
                plan = self._run(shared_job(groups, way), options)
                own, other = plan.measures, whole.measures
                metal = own.consumed_mm2 / other.consumed_mm2
                if not plan.unplaced and not whole.unplaced:
                    against[way].append(metal)
                self.stdout.write(
                    f"| {groups} | {way} | {len(plan.placements)}/{3 * groups} | "
                    f"{len(whole.placements)}/{3 * groups} | {own.consumed_mm2:.0f} | "
                    f"{other.consumed_mm2:.0f} | {metal:.3f} | {own.cost / other.cost:.3f} | "
                    f"{len(plan.cuts)} | {plan.rounds} |"
                )
        for way, ratios in against.items():
            mean = _mean(ratios)
            self.stdout.write(f"geometric mean, {way}: {mean:.3f} ({len(ratios)} complete)")

    def _moves(self, options: dict[str, Any]) -> None:
        """One piece after another is nudged, as at a layout table; all is judged each time."""
        self.stdout.write("| by hand | pieces | from nothing, ms | median, ms | 95 of 100, ms |")
        self.stdout.write("|---|---|---|---|---|")
        for name, plain in class_jobs().items():
            if options["only"] not in name:
                continue
            job = replace(plain, hands=GETTING_SURER, edge_margin_mm=2.0, worth="two")
            laid = list(place(job, rounds=1, seed=options["seed"]).placements)
            chance = random.Random(options["seed"])  # noqa: S311 - for a benchmark
            watch = Watch(job)
            took = [_judging_ms(watch, laid)]
            for _ in range(options["moves"]):
                k = chance.randrange(len(laid))
                x, y = (chance.uniform(-NUDGE_MM, NUDGE_MM) for _ in "xy")
                laid[k] = replace(laid[k], x_mm=laid[k].x_mm + x, y_mm=laid[k].y_mm + y)
                took.append(_judging_ms(watch, laid))
            first, moved = took[0], sorted(took[1:])
            median, late = moved[len(moved) // 2], moved[int(0.95 * (len(moved) - 1))]
            self.stdout.write(f"| {name} | {len(laid)} | {first:.0f} | {median:.1f} | {late:.1f} |")

    def _strips(self, folder: StripFolder, options: dict[str, Any]) -> None:
        self.stdout.write(
            "| strip | seed | shelves | fill | ours | mean | best | optimum | ours / fill | "
            "ours / mean | ours / optimum |"
        )
        self.stdout.write("|---|---|---|---|---|---|---|---|---|---|---|")
        against_fill, against_mean = [], []
        incomplete: list[str] = []
        for strip in folder.strips:
            if options["only"] not in strip.name:
                continue
            rows = _filled(strip, shelves(strip.job))
            fill = _filled(strip, raster_fill(strip.job))
            known = (strip.mean_percent, strip.best_percent, strip.optimum_percent)
            mean, best, optimum = (math.nan if one is None else one for one in known)
            for seed in range(options["seed"], options["seed"] + options["seeds"]):
                plan = self._run(strip.job, {**options, "seed": seed})
                ours = _filled(strip, plan.placements)
                if math.isnan(ours):
                    incomplete.append(f"{strip.name} (seed {seed})")
                against_fill.append(ours / fill)
                against_mean.append(ours / mean)
                cells = [_cell(f, 2, "incomplete") for f in (rows, fill, ours)]
                cells += [_cell(f, 2) for f in (mean, best, optimum)]
                cells += [_cell(r, 3) for r in (ours / fill, ours / mean, ours / optimum)]
                self.stdout.write(f"| {strip.name} | {seed} | {' | '.join(cells)} |")
        for name, found in (("fill", against_fill), ("published mean", against_mean)):
            usable = [ratio for ratio in found if math.isfinite(ratio)]
            self.stdout.write(f"geometric mean ours / {name}: {_mean(usable):.4f} ({len(usable)})")
        if incomplete:
            self.stdout.write(f"incomplete, in no mean: {', '.join(incomplete)}")
        for name, text in (("strips", folder.source), ("published figures", folder.published)):
            if text:
                self.stdout.write(f"{name}: {text}")

    def _just_enough(
        self, folder: StripFolder | None, share: float, options: dict[str, Any]
    ) -> None:
        """Each job until all its pieces lie on its metal, which is hardly enough."""
        self.stdout.write("| job | as | seed | placed | seconds | processor, s | rounds |")
        self.stdout.write("|---|---|---|---|---|---|---|")
        jobs = [(name, job) for name, job in tight_jobs(share).items()]
        if folder is not None:
            known = [strip for strip in folder.strips if strip.mean_percent is not None]
            jobs = [(s.name, s.just_enough(share, goal)) for s in known for goal in GOALS]
        whole, tries = dict.fromkeys(GOALS, 0), dict.fromkeys(GOALS, 0)
        for name, job in jobs:
            if options["only"] not in name:
                continue
            for seed in range(options["seed"], options["seed"] + options["seeds"]):
                first = First()
                plan = self._run(job, {**options, "seed": seed}, first.is_awaited)
                tries[job.goal] += 1
                whole[job.goal] += not plan.unplaced
                times = f"{_cell(first.seconds, 1)} | {_cell(first.processor, 1)}"
                self.stdout.write(
                    f"| {name} | {job.goal} | {seed} | {len(plan.placements)}/{job.copies} | "
                    f"{times} | {plan.rounds} |"
                )
        for goal in GOALS:
            if tries[goal]:
                self.stdout.write(f"all placed as {goal}: {whole[goal]} of {tries[goal]}")

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
            _without_fault(job, plan.placements)
            cost = plan.measures.cost
            self.stdout.write(
                f"| {count} | {first.seconds:.2f} | {first.processor:.2f} | "
                f"{len(plan.placements)} | {plan.rounds} | {cost:.2f} | {cost / first.cost:.3f} | "
                f"{peak_memory_mb():.0f} |"
            )


def _judging_ms(watch: Watch, laid: Sequence[Placement]) -> float:
    began = time.process_time()
    watch.judge(laid)
    return 1000.0 * (time.process_time() - began)


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

    def is_awaited(self, plan: Plan) -> bool:
        """The same, for a search that ends with that plan."""
        self.note(plan)
        return math.isnan(self.seconds)


def peak_memory_mb() -> float:
    """The most memory that this process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def folder_of(name: str) -> StripFolder:
    """The strips of a folder; CommandError with status 2 where it cannot be used."""
    folder = Path(name)
    try:
        return strip_folder(
            read_json(str(folder / INDEX)), lambda file: read_json(str(folder / file))
        )
    except FolderError as wrong:
        raise unusable(f"{name}: {wrong}") from None


def _filled(strip: KnownStrip, placements: Sequence[Placement]) -> float:
    """Percent of the used strip that is pieces; NaN where a piece is left over."""
    _without_fault(strip.job, placements)
    if len(placements) < strip.job.copies:
        return math.nan
    return strip.density_percent(measure(strip.job, placements)[0].strip_length_mm)


def _cell(figure: float, digits: int, missing: str = "") -> str:
    return missing if math.isnan(figure) else f"{figure:.{digits}f}"


def _judged(job: Job, placements: Sequence[Placement]) -> tuple[float, int]:
    _without_fault(job, placements)
    return measure(job, placements)[0].cost, len(placements)


def _without_fault(job: Job, placements: Sequence[Placement], cuts: Sequence[Cut] = ()) -> None:
    wrong = faults(job, placements, cuts)
    if wrong:
        raise unusable(f"the judge faults a plan: {wrong[0].message}")


def _mean(ratios: Iterable[float]) -> float:
    logs = [math.log(ratio) for ratio in ratios]
    return math.exp(sum(logs) / len(logs)) if logs else math.nan
