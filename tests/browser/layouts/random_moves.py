"""Random moves of pieces on the layout table's geometry, and what the judge says of them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from random import Random
from typing import Any

from playwright.sync_api import Page

from studio.core.cutting import Job, Placement
from studio.core.verifying import Fault
from studio.core.verifying.faults import faults_of
from studio.core.verifying.kept import Kept

from .jobs import LAID, copies, placement, state_of

NEARNESS = {
    "piece": "too-near-piece",
    "line": "too-near-line",
    "edge": "too-near-edge",
    "outside": "outside-metal",
}
SPANS = {"S1": (120, 80), "O1": (115, 70), "B1": (90, 50)}
STEPS = 8

Neighbours = frozenset[tuple[str | None, int | None]]

IN_THE_BROWSER = """async asked => {
  const { Bench } = await import("./layouts/geometry/bench.js");
  return JSON.stringify(JSON.parse(asked).map(({ state, drags, laid }) => {
    const bench = new Bench(state.rules, state.metal, state.pieces);
    return drags.map(({ piece, copy, steps }) => {
      bench.set(laid);
      const held = bench.hold(piece, copy);
      const isIt = (p) => p.piece === piece && p.copy === copy;
      let at = laid.find(isIt) ?? null;
      const answers = steps.map(({ wish, by, how, jitter }) => {
        const meant = at && by ? { ...held.turned(at, by[2]) } : { ...wish };
        if (at && by) {
          meant.x_mm += by[0];
          meant.y_mm += by[1];
        }
        at = held.towards(meant, how);
        const turned = held.turned(at, jitter[2]);
        const tried = { ...turned, x_mm: turned.x_mm + jitter[0], y_mm: turned.y_mm + jitter[1] };
        return { meant, at, tried: { at: tried, faults: held.look(tried) } };
      });
      if (at.faults.every((fault) => fault.of)) {
        const now = { piece, copy, ...at };
        laid = laid.some(isIt) ? laid.map((p) => (isIt(p) ? now : p)) : [...laid, now];
      } else laid = laid.filter((p) => !isIt(p));
      return answers;
    });
  }));
}"""


@dataclass(frozen=True, slots=True)
class Judged:
    """A place of a piece among others: what the browser says of it, and what the judge says."""

    job: str
    others: tuple[Placement, ...]
    place: Placement
    told: list[dict[str, Any]]
    faults: list[Fault]
    broken: set[Neighbours]
    """Neighbours that lay well while the piece was where it was taken from, and do no longer."""
    tried: bool
    """Put there by the test itself, not found by the table."""
    snaps: list[dict[str, Any]]
    meant: dict[str, Any]


def drags(
    random: Random, job: Job, there: list[tuple[str, int]], count: int
) -> list[dict[str, Any]]:
    """First each piece comes from the tray, then what lay there is dragged, then any."""
    order = [one for one in copies(job) if one not in there]
    random.shuffle(order)
    order = [*order, *random.sample(there, len(there))]
    order += [random.choice(order) for _ in range(count - len(order))]
    return [_drag(random, job, piece, copy) for piece, copy in order[:count]]


def _drag(random: Random, job: Job, piece: str, copy: int) -> dict[str, Any]:
    wanted = job.wanted_by_id[piece]
    may_turn = wanted.turns_deg is None and wanted.grain_deg is None
    steps = []
    for step in range(STEPS):
        metal = random.choice(("S1", "S1", "O1", "O1", "B1"))
        wide, high = SPANS[metal]
        wish = {
            "metal": metal,
            "mirror": wanted.may_mirror and random.random() < 0.4,
            "turn_deg": random.choice((0.0, 90.0, 180.0, random.uniform(-4, 4), 33.0)),
            "x_mm": random.uniform(0, wide),
            "y_mm": random.uniform(0, high),
        }
        if not may_turn:
            wish["turn_deg"] = random.choice((0.0, 180.0))
        far = random.choice((0.1, 0.3, 2.0, 6.0, 15.0, 40.0))
        by = [random.uniform(-far, far), random.uniform(-far, far), 0.0]
        if may_turn and random.random() < 0.3:
            by[2] = random.choice((random.uniform(-4, 4), random.uniform(-180, 180)))
        little = random.choice((0.003, 0.03, 0.3, 1.0))
        jitter = [random.uniform(-little, little), random.uniform(-little, little), 0.0]
        if may_turn and random.random() < 0.3:
            jitter[2] = random.uniform(-1, 1)
        snap = random.random() < 0.6
        how = {"slide": random.random() < 0.9, "snap": snap, "reach_mm": random.choice((1.0, 2.5))}
        steps.append(
            {
                "wish": wish,
                "by": by if step == 0 or random.random() < 0.85 else None,
                "how": how,
                "jitter": jitter,
            }
        )
    return {"piece": piece, "copy": copy, "steps": steps}


def judged(page: Page, jobs: dict[str, Job], seed: int, count: int) -> Iterator[Judged]:
    """Every place that so many drags in each job lead to, as the browser and the judge see it."""
    random = Random(seed)
    asked: list[dict[str, Any]] = []
    for name, job in jobs.items():
        there = LAID.get(name, [])
        moves = drags(random, job, [(p.piece, p.copy) for p in there], count)
        asked.append({"state": state_of(job), "drags": moves, "laid": [asdict(p) for p in there]})
    answers = json.loads(page.evaluate(IN_THE_BROWSER, json.dumps(asked)))
    for (name, job), one, answer in zip(jobs.items(), asked, answers, strict=True):
        laid = list(LAID.get(name, []))
        assert faults_of(job, laid, Kept()) == ()
        kept = Kept()
        for drag, steps in zip(one["drags"], answer, strict=True):
            me = {"piece": drag["piece"], "copy": drag["copy"]}
            index = next((k for k, p in enumerate(laid) if _is(p, me)), len(laid))
            others = (*laid[:index], *laid[index + 1 :])
            before = _elsewhere(faults_of(job, laid, kept), me) if index < len(laid) else None
            for step in steps:
                for told, tried in ((step["at"], False), (step["tried"], True)):
                    at = placement({**me, **(told["at"] if tried else told)})
                    kept.next_answer()
                    found = faults_of(job, [*others[:index], at, *others[index:]], kept)
                    about = [fault for fault in found if _about(fault, me)]
                    snaps = told.get("snaps", [])
                    broken = set() if before is None else _elsewhere(found, me) - before
                    yield Judged(
                        name, others, at, told["faults"], about, broken, tried, snaps, step["meant"]
                    )
            laid = list(others)
            if all("of" in fault for fault in steps[-1]["at"]["faults"]):
                laid.insert(index, placement({**me, **steps[-1]["at"]}))


def _is(p: Placement, me: dict[str, Any]) -> bool:
    return (p.piece, p.copy) == (me["piece"], me["copy"])


def _about(fault: Fault, me: dict[str, Any]) -> bool:
    """Faults of nearness that name a piece, first or second."""
    names = ((fault.piece, fault.copy), (fault.other, fault.other_copy))
    return (me["piece"], me["copy"]) in names and fault.code in NEARNESS.values()


def _elsewhere(found: Iterable[Fault], me: dict[str, Any]) -> set[Neighbours]:
    """Who is too near whom, or (alone) too near an edge, the one piece aside."""
    return {
        frozenset({(fault.piece, fault.copy), (fault.other, fault.other_copy)} - {(None, None)})
        for fault in found
        if fault.code in NEARNESS.values() and not _about(fault, me)
    }
