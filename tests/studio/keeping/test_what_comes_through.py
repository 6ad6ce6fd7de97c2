"""Rows of an older release come through its upgrades, and the way back is open."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from studio.models import Pattern
from studio.steps.patterns.versions import use_again
from tests.people import Cast
from tests.studio.patterns.making import BAR, bring, make_project

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]


def to_newest() -> None:
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


@pytest.fixture
def back_to() -> Iterator[Any]:
    """Takes the tables back to the state after a migration and answers with its models."""

    def back(app: str, name: str) -> Any:
        executor = MigrationExecutor(connection)
        executor.migrate([(app, name)])
        return executor.loader.project_state([(app, name)]).apps

    yield back
    to_newest()


def test_a_pattern_that_was_replaced_can_be_used_again(cast: Cast, back_to: Any) -> None:
    project = make_project(cast)
    first = bring(project)
    bring(project, BAR)
    before = back_to("studio", "0006_upload_tallies")
    old = before.get_model("studio", "Pattern").objects
    assert sorted(old.values_list("state", flat=True)) == ["draft", "replaced"]
    to_newest()
    kept = Pattern.objects.select_related("project__brief__course").get(pk=first.pk)
    assert kept.state == Pattern.State.ASIDE
    assert use_again(kept, acting=cast.owner).state == Pattern.State.DRAFT
