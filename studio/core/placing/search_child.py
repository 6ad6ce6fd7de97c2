"""The other side of `apart`: reads a job a line, searches, and says what it finds."""

from __future__ import annotations

import importlib
import json
import os
import traceback
from typing import Any, BinaryIO

from shapely.geometry import box

from studio.core.cutting import Job, Plan, Stock, Wanted, job_from_json, plan_to_json

from . import place, warm_up_aside

OUT_OF_MEMORY = 70


def main(source: BinaryIO, target: BinaryIO) -> None:
    words = _words_alone(target)
    shown: Plan | None = None

    def say(word: dict[str, Any]) -> None:
        words.write(json.dumps(word).encode() + b"\n")
        words.flush()

    def told_to_go_on(plan: Plan) -> bool:
        nonlocal shown
        new = bool(plan.placements) and (shown is None or plan.placements != shown.placements)
        if new:
            shown = plan
        say({"plan": plan_to_json(plan) if new else None})
        return json.loads(source.readline() or b"false") is True

    get_ready()
    for line in source:
        shown = None
        asked = json.loads(line)
        try:
            job = job_from_json(asked.pop("job"))
            found = place(job, on_progress=told_to_go_on, **asked)
        except MemoryError:
            os._exit(OUT_OF_MEMORY)  # what is left of it is in no state for the next job
        except Exception:
            say({"fault": traceback.format_exc()})
        else:
            say({"found": plan_to_json(found)})


def _words_alone(target: BinaryIO) -> BinaryIO:
    """A way to the caller that is ours alone: what a library prints goes where errors go."""
    words = os.fdopen(os.dup(target.fileno()), "wb")
    os.dup2(2, target.fileno())
    return words


def get_ready() -> None:
    """Load the engine and place one square, so that the first student does not wait for that.

    The compiled search gets ready aside: half a minute once per machine, then from its cache. What
    it needs is loaded before, so that a thread which fails at that is not all one hears of it.
    """
    for part in ("separating.improve", "strips.rounds"):
        importlib.import_module(f"{__package__}.{part}")
    square = box(0.0, 0.0, 10.0, 10.0)
    sheet = box(0.0, 0.0, 40.0, 40.0)
    place(Job(metal=(Stock("sheet", sheet),), pieces=(Wanted("square", square),)), seconds=0.2)
    warm_up_aside()
