"""Something of every kind, for walks over all addresses."""

from __future__ import annotations

import pytest
from django.core.files.base import ContentFile

from classroom.models import BenchPermit
from studio.steps.patterns.sheet_picture import keep_paper
from tests.people import Cast
from tests.studio.bench.making import World, give_permits, make_world


@pytest.fixture
def numbers(cast: Cast) -> dict[str, int]:
    """The primary key of one of each kind of thing, all of them the owner's or the teacher's."""
    world: World = make_world(cast)
    project = world.at_bench()
    (permit,) = give_permits(cast, cast.owner, "saw-frame")
    assert isinstance(permit, BenchPermit)
    share = project.plan_shares.get()
    share.pattern.file.save("tag.svg", ContentFile(b"<svg/>"))
    keep_paper(share.pattern, b"the small picture of a sheet")
    step = project.bench_steps.first()
    assert step is not None
    return {
        "course": cast.course.pk,
        "seat": cast.seat.pk,
        "brief": project.brief_id,
        "project": project.pk,
        "pattern": share.pattern_id,
        "plan": share.plan_id,
        "step": step.pk,
        "permit": permit.pk,
    }
