"""The examples in the docstrings of the engine's doors are run: what they show is what happens."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest

DOORS = [
    ("studio.core.placing", "place"),
    ("studio.core.verifying.cuts", "cuts"),
    ("studio.core.verifying.faults", "faults"),
    ("studio.core.verifying.faults", "missing"),
    ("studio.core.verifying.measures", "measure"),
    ("studio.core.verifying.watch", "Watch"),
]


@pytest.mark.parametrize(("module", "door"), DOORS)
def test_the_examples_at_the_door_are_true(module: str, door: str) -> None:
    room = import_module(module)
    shown = doctest.DocTestFinder(recurse=False).find(
        getattr(room, door), door, module=room, globs=dict(vars(room))
    )
    assert sum(len(one.examples) for one in shown) >= 4
    runner = doctest.DocTestRunner(verbose=False)
    for one in shown:
        runner.run(one)
    assert runner.summarize(verbose=False).failed == 0
