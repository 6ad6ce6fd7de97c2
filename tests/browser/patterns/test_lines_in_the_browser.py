"""The browser shows what becomes of the lines before the server says so: the two must agree."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from random import Random
from typing import Any

import pytest
from playwright.sync_api import Browser

from studio.core.correcting import CannotChange, change_from_json, corrected
from studio.core.reading import Line, Tracing
from tests.core.correcting.making import tracing

from . import random_corrections as making
from .modules_alone import page_beside_modules

pytestmark = pytest.mark.browser

SAME_MM = 1e-6 + 1e-9  # both round to six places; a last place may tip over
DRAWINGS, CHANGES = 260, 12

Plain = dict[str, Any]


@dataclass(slots=True)
class Case:
    """A drawing, what is sent one after the other, and what the server makes of it."""

    states: list[Tracing]
    """As drawn, and after each change; a refused one leaves it as it was."""
    sent: list[making.Sent] = field(default_factory=list)
    refusals: list[str] = field(default_factory=list)


IN_THE_BROWSER = """async asked => {
  const { applied } = await import("./correcting/changes.js");
  const content = (lines) => [...lines.values()].map((line) => JSON.stringify(line));
  return JSON.stringify(JSON.parse(asked).map(({ lines, changes }) => {
    let now = new Map(lines.map((line) => [line.id, line]));
    let told = content(now);
    return changes.map((change) => {
      const before = new Set(told);
      now = applied(now, change);
      told = content(now);
      const other = told.filter((line) => !before.has(line)).map((line) => JSON.parse(line));
      return { ids: [...now.keys()], other };
    });
  }));
}"""


def in_the_browser(chromium: Browser, cases: list[Case]) -> Any:
    """What the page's own module makes of each case: for each change the ids, and what is other."""
    asked = [
        {"lines": list(map(plain, case.states[0].lines)), "changes": case.sent} for case in cases
    ]
    with page_beside_modules(chromium) as page:
        return json.loads(page.evaluate(IN_THE_BROWSER, json.dumps(asked)))


def on_the_server(random: Random) -> Case:
    now = tracing(*making.drawing(random))
    case = Case([now])
    for _ in range(CHANGES):
        sent, refusal = making.change(random, now.lines), ""
        try:
            now = corrected(now, [change_from_json(sent)])
        except CannotChange as cannot:
            refusal = str(cannot)
        case.sent.append(sent)
        case.refusals.append(refusal)
        case.states.append(now)
    return case


def plain(one: Line) -> Plain:
    told = one.to_json()
    return {key: told[key] for key in ("id", "points", "closed", "round")}


def same(one: Plain, other: Plain) -> bool:
    if one == other:
        return True
    if any(bool(one[key]) != bool(other[key]) for key in ("closed", "round")):
        return False
    if len(one["points"]) != len(other["points"]):
        return False
    pairs = zip(
        [*one["points"], one["round"] or ()], [*other["points"], other["round"] or ()], strict=True
    )
    return all(abs(a - b) <= SAME_MM for p, q in pairs for a, b in zip(p, q, strict=True))


def first_difference(case: Case, answers: list[dict[str, Any]]) -> str:
    """Where the two part ways; "" where they never do."""
    shown = {each.id: plain(each) for each in case.states[0].lines}
    steps = zip(case.sent, case.refusals, case.states[1:], answers, strict=True)
    for sent, refusal, now, answer in steps:
        shown |= {each["id"]: each for each in answer["other"]}
        shown = {id_: shown[id_] for id_ in answer["ids"]}
        kept = {each.id: plain(each) for each in now.lines}
        if list(shown) != list(kept):
            return f"{sent} ({refusal}): lines {list(shown)}, on the server {list(kept)}"
        for id_, line in kept.items():
            if not same(shown[id_], line):
                return f"{sent} ({refusal or 'accepted'}): {shown[id_]}, on the server {line}"
    return ""


def test_the_browser_and_the_server_make_the_same_of_every_change(chromium: Browser) -> None:
    random = Random(20_260)
    cases = [on_the_server(random) for _ in range(DRAWINGS)]

    refusals = [refusal for case in cases for refusal in case.refusals if refusal]
    assert 0.1 < len(refusals) / (DRAWINGS * CHANGES) < 0.5
    assert len(set(refusals)) >= 16  # hardly a rule that is not met

    answers = in_the_browser(chromium, cases)
    found = filter(None, map(first_difference, cases, answers))
    assert list(found) == []
