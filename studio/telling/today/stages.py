"""Where does a project stand, in words for its student and for its teacher?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from studio.models import Project

Stage = Project.Stage

NOT_STARTED = "not_started"


@dataclass(frozen=True, slots=True)
class StageWords:
    """`kind` is the mark of the status word; `word` what it says in a table."""

    kind: str
    word: str


WORDS: dict[str, StageWords] = {
    NOT_STARTED: StageWords("locked", "Not started"),
    Stage.DRAWING: StageWords("draft", "Drawing"),
    Stage.HANDED_IN: StageWords("current", "To be looked at"),
    Stage.RETURNED: StageWords("returned", "Handed back"),
    Stage.PATTERN_APPROVED: StageWords("waiting", "Pattern approved"),
    Stage.PLANNED: StageWords("waiting", "Metal reserved"),
    Stage.AT_BENCH: StageWords("current", "At the bench"),
    Stage.MADE: StageWords("waiting", "Metal to return"),
    Stage.CLOSED: StageWords("closed", "Closed"),
}

PATTERN_WORDS: dict[str, StageWords] = {
    "draft": StageWords("draft", "Draft"),
    "handed_in": StageWords("current", "Handed in"),
    "approved": StageWords("done", "Approved"),
    "returned": StageWords("returned", "Handed back"),
    "aside": StageWords("closed", "Kept beside"),
}

_TRAIL: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Pattern", (Stage.DRAWING, Stage.RETURNED)),
    ("Teacher’s look", (Stage.HANDED_IN,)),
    ("Cut plan", (Stage.PATTERN_APPROVED,)),
    ("Metal", (Stage.PLANNED,)),
    ("Bench", (Stage.AT_BENCH,)),
    ("Return", (Stage.MADE,)),
    ("Closed", (Stage.CLOSED,)),
)
_NOTES = {
    Stage.RETURNED: "handed back with a remark",
    Stage.PATTERN_APPROVED: "to be made and approved",
    Stage.PLANNED: "reserved, to be handed out",
    Stage.MADE: "offcuts and scrap go back",
}


def stage_words(stage: str) -> StageWords:
    return WORDS[stage]


def trail(project: Project, urls: dict[str, str], *, waits: bool) -> list[dict[str, Any]]:
    """The stages for components/page/trail.html; `urls` names a page for a stage by its label.

    `waits`: it is somebody else's turn, as `studio.telling.today.standings` says.
    """
    here = next(index for index, (_, stages) in enumerate(_TRAIL) if project.stage in stages)
    steps: list[dict[str, Any]] = []
    for index, (label, _) in enumerate(_TRAIL):
        step: dict[str, Any] = {"label": label, "url": urls.get(label, "")}
        if index < here or project.stage == Stage.CLOSED:
            step["state"] = "done"
        elif index == here:
            step["state"] = "waiting" if waits else "current"
            step["note"] = _NOTES.get(Stage(project.stage), "")
        else:
            step["state"] = "locked"
        steps.append(step)
    return steps
