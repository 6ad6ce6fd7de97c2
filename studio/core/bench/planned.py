"""A step at the bench as plain data: stored with the project, worded, and signed by its hash."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Self

from .texts import WORDING_VERSION, BenchStepKind, Mistake, StockStepKind


@dataclass(frozen=True, slots=True)
class PlannedBenchStep:
    """One step as it will be shown, done and signed.

    `do` are instructions in order, `right_when` how to see that it is right, `needs` tools and
    materials, `notes` what is worth knowing about this metal, `permits` codes of safety topics
    (`classroom.safety.texts`). `wait_minutes` must pass after the step is started before it can
    be finished; 0 for most. `metal` is the line of `needs` that names the sheet. `own_words_in`
    is the language of a school's own words, which stand as the school wrote them; empty where
    all of it is ours.
    """

    kind: BenchStepKind | StockStepKind
    title: str
    do: tuple[str, ...]
    right_when: tuple[str, ...]
    usual_mistakes: tuple[Mistake, ...]
    cautions: tuple[str, ...]
    needs: tuple[str, ...]
    notes: tuple[str, ...]
    permits: tuple[str, ...]
    wait_minutes: int
    teacher_signs: bool
    wording_version: str = WORDING_VERSION
    metal: str = ""
    own_words_in: str = ""

    def to_json(self) -> dict[str, Any]:
        return {
            "kind": str(self.kind),
            "title": self.title,
            "do": list(self.do),
            "right_when": list(self.right_when),
            "usual_mistakes": [[one.what, one.cause, one.mend] for one in self.usual_mistakes],
            "cautions": list(self.cautions),
            "needs": list(self.needs),
            "notes": list(self.notes),
            "permits": list(self.permits),
            "wait_minutes": self.wait_minutes,
            "teacher_signs": self.teacher_signs,
            "wording_version": self.wording_version,
            "metal": self.metal,
            "own_words_in": self.own_words_in,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(
            kind=BenchStepKind(data["kind"]),
            title=data["title"],
            do=tuple(data["do"]),
            right_when=tuple(data["right_when"]),
            usual_mistakes=tuple(Mistake(*words) for words in data["usual_mistakes"]),
            cautions=tuple(data["cautions"]),
            needs=tuple(data["needs"]),
            notes=tuple(data["notes"]),
            permits=tuple(data["permits"]),
            wait_minutes=data["wait_minutes"],
            teacher_signs=data["teacher_signs"],
            wording_version=data["wording_version"],
            metal=data.get("metal", ""),
            own_words_in=data.get("own_words_in", ""),
        )


@dataclass(frozen=True, slots=True)
class SchoolWords:
    """A school's own words for a kind of step, in the version and the language of that school."""

    version: int
    do: tuple[str, ...]
    right_when: tuple[str, ...]
    mistakes: tuple[Mistake, ...]
    language: str = "en"


def wording_of(step: PlannedBenchStep) -> str:
    """The exact text of a step that a person signs: every word shown, one line each.

    What each line is, is said in English whatever the step's language, so that a stored wording
    always gives the same text.
    """
    lines = [f"{step.title} (wording {step.wording_version})"]
    lines += [f"{number}. {text}" for number, text in enumerate(step.do, start=1)]
    lines += [f"Right when: {text}" for text in step.right_when]
    lines += [
        f"Usual mistake: {one.what}. Cause: {one.cause} Mend: {one.mend}"
        for one in step.usual_mistakes
    ]
    lines += [f"Caution: {text}" for text in step.cautions]
    lines += [f"Needs: {text}" for text in step.needs]
    lines += [f"Worth knowing: {text}" for text in step.notes]
    lines += [f"Permit: {code}" for code in step.permits]
    if step.wait_minutes:
        lines.append(f"Waiting time: {step.wait_minutes} minutes")
    lines.append(f"Signed by: student{' and teacher' if step.teacher_signs else ''}")
    return "\n".join(lines) + "\n"


def wording_sha(step: PlannedBenchStep) -> str:
    """SHA-256 of `wording_of`, in hexadecimal: tells whether a stored wording was altered."""
    return hashlib.sha256(wording_of(step).encode()).hexdigest()
