"""What every step shows of itself, a student's own or one of shared metal."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import get_language, gettext, gettext_noop

from studio.core.bench.texts import BenchStepKind
from studio.models.step_row import StepRow
from studio.steps.bench import rules as bench_rules
from studio.steps.bench.rules import Phase

from .step_art import Art, art_of

WORDS: dict[Phase, tuple[str, str]] = {
    Phase.DONE: ("done", gettext_noop("Done")),
    Phase.TO_CHECK: ("waiting", gettext_noop("Waits for the teacher's check")),
    Phase.WAITING: ("waiting", gettext_noop("Waiting time")),
    Phase.AT_WORK: ("current", gettext_noop("At work")),
    Phase.READY: ("current", gettext_noop("Ready to start")),
    Phase.BLOCKED: ("stop", gettext_noop("Something is missing")),
    Phase.SHARED: ("waiting", gettext_noop("Waits for shared metal")),
    Phase.LATER: ("locked", gettext_noop("Later")),
}
"""For each phase the look and the word of its status."""


class AnyStepShown:
    """A step with its words and its times; `clock` is this moment on the school's clock."""

    __slots__ = ()

    step: StepRow
    phase: Phase
    clock: dt.datetime

    @property
    def words(self) -> dict[str, Any]:
        return self.step.words_in(get_language() or "en")

    @property
    def title(self) -> str:
        return bench_rules.title(self.step)

    @property
    def status_kind(self) -> str:
        return WORDS[self.phase][0]

    @property
    def status_word(self) -> str:
        return gettext(WORDS[self.phase][1])

    @property
    def waits(self) -> bool:
        return self.phase is Phase.WAITING

    @property
    def wait_is_over(self) -> bool:
        return self.step.wait_until is not None and self.phase is Phase.AT_WORK

    @property
    def until(self) -> str:
        """The waiting time's end on the school's clock, with the day where that is not today."""
        end = self.step.wait_until
        return bench_rules.clock_at_end(end, self.clock) if end is not None else ""

    @property
    def signed_at(self) -> str:
        signed = self.step.student_signed_at
        return bench_rules.clock(signed, self.clock) if signed is not None else ""

    @property
    def art(self) -> tuple[Art, ...]:
        return art_of(self.step.kind)

    @property
    def is_saw(self) -> bool:
        return self.step.kind == BenchStepKind.SAW

    @property
    def is_soak(self) -> bool:
        return self.step.kind == BenchStepKind.REMOVE

    @property
    def begun(self) -> str:
        """Which start of the step a sign-off is about."""
        started = self.step.started_at
        return started.isoformat() if started else ""

    @property
    def seen(self) -> str:
        """Which sign-off a teacher looks at."""
        signed = self.step.student_signed_at
        return signed.isoformat() if signed else ""
