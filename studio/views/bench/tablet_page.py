"""What a bench tablet shows of each student: the step that is on, and what may be sent about it."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import get_language, gettext_noop
from django.utils.translation import gettext as _

from classroom.models import Seat
from studio.core.bench.texts import BenchStepKind
from studio.core.picturing.where import WherePicture
from studio.models import (
    BenchStep,
    BenchTablet,
    Project,
    StockStep,
    TabletDeed,
)
from studio.queries.bench import projects_on
from studio.queries.shared_stock import papers_on
from studio.steps.bench import rules as bench_rules
from studio.steps.bench.rules import Phase, Situation
from studio.steps.bench.situation import situations
from studio.steps.sharing import stock_rules
from studio.steps.sharing.stock_rules import StockSituation
from studio.views.plans.saw_order import SawOrder, saw_order

from .shown import ORDERED, PICTURED, where
from .step_art import Art, art_of

What = TabletDeed.What

STANDS: dict[Phase, tuple[str, str]] = {
    Phase.TO_CHECK: ("waiting", gettext_noop("Show it to your teacher")),
    Phase.WAITING: ("waiting", gettext_noop("Waiting time")),
    Phase.AT_WORK: ("current", gettext_noop("At work")),
    Phase.READY: ("current", gettext_noop("Ready to start")),
    Phase.BLOCKED: ("stop", gettext_noop("See your teacher")),
    Phase.SHARED: ("waiting", gettext_noop("Waits for shared metal")),
    Phase.LATER: ("locked", gettext_noop("Later")),
    Phase.DONE: ("done", gettext_noop("Done")),
}
"""What everybody at the bench may read; what exactly is missing is told to the student alone."""


@dataclass(frozen=True, slots=True)
class Work:
    """The present step of one project; `what` is what its form sends, empty where nothing can be
    sent now. `key` is new each time the page is shown: see `TabletDeed`."""

    project: Project
    step: BenchStep | StockStep
    phase: Phase
    count: int
    until: str  # "10:42", while the waiting time runs
    what: str
    common: str = ""  # the label code of metal for which it is done once for all
    notes: tuple[str, ...] = ()  # what shared metal waits for
    key: uuid.UUID = field(default_factory=uuid.uuid4)

    @property
    def words(self) -> dict[str, Any]:
        return self.step.words_in(get_language() or "en")

    @property
    def title(self) -> str:
        return bench_rules.title(self.step)

    @property
    def pictures(self) -> tuple[WherePicture, ...]:
        """Where to rub and to stick, on those steps; drawn only where a page asks for it."""
        if self.common and self.step.kind == BenchStepKind.PREPARE:
            return ()  # all of the others' places are rubbed, too
        return where(self.project) if self.step.kind in PICTURED else ()

    @property
    def orders(self) -> tuple[SawOrder, ...]:
        """The order of sawing with own lines, on the steps that go by it."""
        return saw_order(self.project) if self.step.kind in ORDERED else ()

    @property
    def is_saw(self) -> bool:
        return self.step.kind == BenchStepKind.SAW

    @property
    def art(self) -> tuple[Art, ...]:
        return art_of(self.step.kind)

    @property
    def anchor(self) -> str:
        return f"{'common' if self.common else 'step'}-{self.step.pk}"

    @property
    def status_kind(self) -> str:
        return STANDS[self.phase][0]

    @property
    def status_word(self) -> str:
        if self.until:
            return _("May be signed from %(time)s") % {"time": self.until}
        if self.phase is Phase.AT_WORK and self.step.wait_until is not None:
            return _("Waiting time is over")
        return _(STANDS[self.phase][1])


def at_work(tablet: BenchTablet, seat: Seat | None = None) -> dict[int, list[Work]]:
    """By seat, the present steps of its projects at the bench; of one seat alone where given.

    The number of queries does not grow with the class.
    """
    chosen = projects_on(tablet) if seat is None else projects_on(tablet).filter(seat=seat)
    projects = list(chosen)
    found: dict[int, list[Work]] = {}
    every = situations(projects, tablet.course.school)
    stuck = _stuck(every[project.pk][0] for project in projects)
    for project in projects:
        on = every[project.pk][0]
        common = _common(project, on, stuck)
        work = _work(project, on)
        own = [work] if work is not None and not (common and work.phase is Phase.SHARED) else []
        if common or own:
            found.setdefault(project.seat_id, []).extend([*common, *own])
    return found


def _stuck(every: Iterable[Situation]) -> set[tuple[int, int]]:
    """Steps and the shares whose papers are on, since sticking was started."""
    steps = {step.pk: step for on in every for piece in on.shared.pieces for step in piece.steps}
    return papers_on(
        {pk: step.started_at for pk, step in steps.items() if step.started_at is not None}
    )


def _common(project: Project, on: Situation, stuck: set[tuple[int, int]]) -> list[Work]:
    """The present steps of metal that the project shares, which are done once for all."""
    found = []
    for piece in on.shared.pieces:
        step = piece.open_step
        if step is None:
            continue
        # Who may do it is said after the passphrase, as for every other step.
        phase = stock_rules.phase(
            step, StockSituation(piece.code, True, piece.steps, {}, {}, on.now)
        )
        what = {Phase.READY: What.START, Phase.AT_WORK: What.DONE}.get(phase, "")
        notes: tuple[str, ...] = ()
        if step.kind == BenchStepKind.ADHERE and phase is Phase.AT_WORK:
            is_on = (step.pk, on.shared.share) in stuck
            what = "" if is_on else What.STUCK
            notes = (_("Your papers are on. It goes on when everybody's are."),) if is_on else ()
        until = ""
        if phase is Phase.WAITING and step.wait_until is not None:
            until = bench_rules.clock_at_end(step.wait_until, on.now)
        count = len(piece.steps)
        found.append(Work(project, step, phase, count, until, str(what), piece.code, notes))
    return found


def _work(project: Project, on: Situation) -> Work | None:
    step = bench_rules.foremost(on)
    if step is None:
        return None
    phase = bench_rules.phase(step, on)
    until = ""
    if phase is Phase.WAITING and step.wait_until is not None:
        until = bench_rules.clock_at_end(step.wait_until, on.now)
    # A stopped step keeps its button: what is missing is said after the passphrase, not before.
    what = {
        Phase.READY: What.START,
        Phase.BLOCKED: What.START,
        Phase.AT_WORK: What.DONE,
    }.get(phase, "")
    notes = tuple(one.text for one in bench_rules.to_start(step, on))
    shared = notes if phase is Phase.SHARED else ()
    return Work(project, step, phase, len(on.steps), until, str(what), notes=shared)
