"""A room with a shear, and what a worker does with a plan's other ways."""

from __future__ import annotations

from studio.models import BenchSetup, CutPlan, Shear, WayTry
from studio.running.ways import doing
from tests.people import Cast

ROUNDS = 1
"""Of a search: no clock ends it, so that a slow machine finds the same."""


def shear(cast: Cast, kind: Shear = Shear.FOOT) -> None:
    BenchSetup.objects.update_or_create(school=cast.school, defaults={"shear": kind})


def try_of(plan: CutPlan, way: str) -> WayTry:
    return WayTry.objects.get(plan=plan, way=way)


def work_out(plan: CutPlan, way: str, worker: str = "worker-1") -> bool:
    """Do what a worker does with one other way; whether this very call did it."""
    return doing.run(try_of(plan, way).pk, worker, rounds=ROUNDS)
