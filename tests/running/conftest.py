"""Installations that are filled once and copied for each test: making the tables takes seconds."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from .filling import School, fill
from .house import House, house
from .visiting import Visitor

PROJECTS = 8

Opened = tuple[House, School, Visitor]
Open = Callable[..., Opened]
"""`open_school(**environment)`: a school whose server runs, and its teacher's browser."""


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, School]:
    folder = tmp_path_factory.mktemp("filled") / "var"
    folder.mkdir()
    with house(folder) as one:
        return folder, fill(one, projects=PROJECTS)


@pytest.fixture
def open_school(filled: tuple[Path, School], tmp_path: Path) -> Iterator[Open]:
    template, school = filled
    with ExitStack() as inside:

        def opened(*, start: bool = True, **environment: str) -> Opened:
            var = tmp_path / "var"
            shutil.copytree(template, var)
            one = inside.enter_context(house(var, **environment))
            if start:
                one.open()
            return one, school, inside.enter_context(Visitor(one, school.session))

        yield opened
