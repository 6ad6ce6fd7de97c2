"""A thousand random ways through a pattern's life: no version is ever lost or changed unasked.

After every deed, done or refused, all that stood before stands still: each version's file and
what was read out of it, its corrections, names, drawing and remark. Only a correction changes the
draft that it is made on, and only the teacher's word the remark.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction

from classroom.refusals import Refused
from studio.core.building import RecipeError
from studio.core.correcting import Diameter
from studio.models import BuilderDraft, Pattern, Project
from studio.steps.patterns.answer import approve_pattern, return_pattern
from studio.steps.patterns.build import keep, opened, use
from studio.steps.patterns.correct import correct, undo, undo_all
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.relabel import relabel
from studio.steps.patterns.take_back import take_back
from studio.steps.patterns.versions import current_pattern, use_again
from tests.core.building.recipes import recipe
from tests.people import Cast

from .making import DISC, RINGED, bring, make_project, svg

pytestmark = pytest.mark.django_db

FEW, SEQUENCES, DEEDS = 30, 1000, 12
FIXED = ("file", "file_name", "sha256", "width_mm", "tracing", "recipe", "number")
OWN = ("changes", "relabels", "drawing_json", "remark", "copies")
ONE_CURRENT = {"draft", "handed_in", "approved", "returned"}
FILES = (
    DISC,
    RINGED,
    svg('<circle cx="20" cy="20" r="12"/><circle cx="20" cy="20" r="1.2"/>'),
    svg('<path d="M5 5H45V25H5"/>'),
)
SHAPES = ({"kind": "circle", "diameter": 30}, {"kind": "circle", "diameter": 25})

Deed = Callable[[Project, Cast, random.Random], object]


def some(project: Project, chance: random.Random) -> Pattern:
    """Any version, as a page that may be old shows it."""
    found = list(project.patterns.select_related("project__brief__course", "project__seat"))
    if not found:
        raise Refused("There is none yet.")
    return chance.choice(found)


def upload(project: Project, cast: Cast, chance: random.Random) -> object:
    return bring(project, chance.choice(FILES))


def shape(project: Project, cast: Cast, chance: random.Random) -> object:
    now = opened(project)
    draft = now.draft.changed(recipe(chance.choice(SHAPES)))
    return keep(project, draft, base=now.base)


def use_shapes(project: Project, cast: Cast, chance: random.Random) -> object:
    return use(project, acting=cast.owner, base=opened(project).base)


def change(project: Project, cast: Cast, chance: random.Random) -> object:
    size = chance.choice([1.5, 2.0, 2.5])
    return correct(some(project, chance), [Diameter("2", size)], acting=cast.owner)


def name(project: Project, cast: Cast, chance: random.Random) -> object:
    label = chance.choice(["window", "ignore", ""])
    return relabel(some(project, chance), {"2": label}, acting=cast.owner)


def take_off(project: Project, cast: Cast, chance: random.Random) -> object:
    return chance.choice([undo, undo_all])(some(project, chance), acting=cast.owner)


def again(project: Project, cast: Cast, chance: random.Random) -> object:
    return use_again(some(project, chance), acting=cast.owner)


def give(project: Project, cast: Cast, chance: random.Random) -> object:
    return hand_in(some(project, chance), acting=cast.owner)


def take(project: Project, cast: Cast, chance: random.Random) -> object:
    return take_back(some(project, chance), acting=cast.owner)


def send_back(project: Project, cast: Cast, chance: random.Random) -> object:
    remark = f"Remark {chance.random()}"
    return return_pattern(some(project, chance), acting=cast.teacher, remark=remark)


def accept(project: Project, cast: Cast, chance: random.Random) -> object:
    return approve_pattern(some(project, chance), acting=cast.teacher, place_now=False)


STUDENTS: tuple[Deed, ...] = (upload, shape, use_shapes, change, name, take_off, again, give)
CORRECTING, JUDGING = (change, name, take_off), (send_back, accept)
ALL: tuple[Deed, ...] = (*STUDENTS, take, send_back, send_back, accept)


def as_kept(project: Project) -> dict[int, dict[str, Any]]:
    rows = Pattern.objects.filter(project=project).values("pk", "state", *FIXED, *OWN)
    return {row["pk"]: row for row in rows}


def hold_together(project: Project, before: dict[int, dict[str, Any]], deed: Deed) -> None:
    now = as_kept(project)
    current = [row for row in now.values() if row["state"] in ONE_CURRENT]
    assert len(current) == (1 if now else 0)
    assert sorted(row["number"] for row in now.values()) == list(range(1, len(now) + 1))
    stage = Project.objects.values_list("stage", flat=True).get(pk=project.pk)
    if current:
        assert stage == {"draft": "drawing"}.get(current[0]["state"], current[0]["state"])
    for pk, row in before.items():
        may_differ: set[str] = {"state"}
        if deed in CORRECTING and row["state"] == now[pk]["state"] == "draft":
            may_differ |= {"changes", "relabels", "drawing_json"}
        if deed in JUDGING and row["state"] in ("handed_in", "approved"):
            may_differ |= {"remark"}
        kept = row.keys() - may_differ
        assert {key: now[pk][key] for key in kept} == {key: row[key] for key in kept}


def recipe_of(project: Project) -> Any:
    """What the builder keeps beside the versions, if anything."""
    return BuilderDraft.objects.filter(project=project).values_list("recipe", flat=True).first()


def one_way(project: Project, cast: Cast, seed: int, done: set[str]) -> int:
    """Some deeds one after the other; answers with how many versions there are in the end."""
    chance = random.Random(seed)
    for _ in range(DEEDS):
        deed = chance.choice(ALL)
        before = as_kept(project)
        built = recipe_of(project)
        try:
            deed(Project.objects.get(pk=project.pk), cast, chance)
            done.add(deed.__name__)
        except (Refused, RecipeError):
            pass
        hold_together(project, before, deed)
        if built is not None and deed not in (use_shapes, shape):
            assert recipe_of(project) == built
    every_version_comes_back(project, cast)
    return project.patterns.count()


def every_version_comes_back(project: Project, cast: Cast) -> None:
    """As long as none is out of the student's hands, each can be made the current one."""
    stage = Project.objects.values_list("stage", flat=True).get(pk=project.pk)
    if stage not in ("drawing", "returned"):
        return
    for version in project.patterns.select_related("project__brief__course", "project__seat"):
        before = as_kept(project)
        used = use_again(version, acting=cast.owner)
        assert current_pattern(project) == used == version
        hold_together(project, before, again)


@pytest.mark.parametrize(
    "seeds",
    [range(FEW), pytest.param(range(FEW, SEQUENCES), marks=pytest.mark.slow)],
    ids=["some", "the rest of a thousand"],
)
def test_no_version_is_lost_in_a_thousand_random_ways(cast: Cast, seeds: range) -> None:
    """Each way is taken back by the database, so that all of them begin at the same school."""
    project = make_project(cast)
    done: set[str] = set()
    most = 0
    for seed in seeds:
        begin = transaction.savepoint()
        most = max(most, one_way(project, cast, seed, done))
        transaction.savepoint_rollback(begin)
    assert {deed.__name__ for deed in ALL} == done  # every deed came through somewhere
    assert most >= 3
