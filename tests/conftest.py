"""Fixtures that more than one folder of tests needs, and what a missing tool means.

On a laptop a test whose tool is missing is skipped and says so. Where `BENCHLEDGER_CI=1`
everything has been installed, so there a skip is a failure.
"""

from __future__ import annotations

import io
import os
from collections.abc import Generator, Iterator
from typing import Any

import pytest
from django.db import connections
from django.db.utils import ConnectionHandler
from django.test import Client
from hypothesis import settings

from .guarded_updates import look_at_updates
from .people import Cast, make_cast, signed_in
from .reading_once import confined_once

IN_CI = os.environ.get("BENCHLEDGER_CI") == "1"

# No example has to be quick on a busy machine; where everybody waits for the answer, every run
# tries the same examples.
settings.register_profile("house", deadline=None, derandomize=IN_CI)
settings.load_profile("house")

look_at_updates()


@pytest.fixture
def cast(db: Any) -> Cast:
    return make_cast()


@pytest.fixture
def desk(cast: Cast) -> Client:
    """The browser of the course's teacher."""
    return signed_in(cast.teacher)


@pytest.fixture
def database_queue(settings: Any) -> None:
    """Work waits in the database, as in an installation, until a worker takes it."""
    queues = {
        "BACKEND": "django_tasks_db.DatabaseBackend",
        "QUEUES": ["default", "desk", "trials"],
    }
    settings.TASKS = {"default": queues}


@pytest.fixture(scope="session")
def pango() -> None:
    """PDF needs Pango; where it is missing the test says so."""
    try:
        import weasyprint  # noqa: F401
    except OSError as error:
        pytest.skip(f"PDF printing needs Pango: {error}")


@pytest.fixture
def own_process() -> None:
    """Ask for this, and drawings are read as the app reads them: in a process of their own."""


@pytest.fixture(autouse=True)
def drawings_read_here(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Elsewhere the child's own code runs in the test's process: a start costs half a second.

    Pictures keep their process, whose libraries want it for themselves.
    """
    if "own_process" in request.fixturenames:
        return
    from studio.core.reading import child, door, metal, scan
    from studio.core.reading.scan.wire import unpacked
    from studio.core.reading.uploads import PICTURES

    def here(module: str, asked: bytes, **limits: Any) -> bytes:
        if module != child.__name__ or unpacked(asked)[1] in PICTURES:
            return confined_once(module, asked, **limits)
        answered = io.BytesIO()
        child.main(io.BytesIO(asked), answered)
        return answered.getvalue()

    monkeypatch.setattr(door, "confined", here)
    monkeypatch.setattr(scan, "confined", confined_once)
    monkeypatch.setattr(metal, "confined", confined_once)


@pytest.fixture(autouse=True)
def papers_made_here(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same for PDFs: the child's own code, in the test's process."""
    if "own_process" in request.fixturenames:
        return
    from classroom.papers import pdf_child
    from studio.running.errands import papers

    def here(module: str, asked: bytes, **limits: Any) -> bytes:
        assert module == pdf_child.__name__
        made = io.BytesIO()
        pdf_child.main(io.BytesIO(asked), made)
        return made.getvalue()

    monkeypatch.setattr(papers, "confined", here)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: Any) -> Generator[None, Any, Any]:
    report: Any = yield
    if IN_CI and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"a skip is a failure here: {report.longrepr}"
    return report


@pytest.fixture
def apart(django_db_blocker: Any, settings: Any) -> Iterator[str]:
    """The name of an empty database in memory, beside that of the other tests."""
    own = {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}
    settings.MIGRATION_MODULES = {}  # also where the other tests do without migrations
    made = ConnectionHandler({"default": own, "apart": own})["apart"]
    with django_db_blocker.unblock():
        connections["apart"] = made
        try:
            yield "apart"
        finally:
            made.close()
            del connections["apart"]
