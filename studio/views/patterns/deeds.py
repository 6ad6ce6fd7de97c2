"""What can be done with a pattern from the head of its page, and what its teacher said of it."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from studio.models import Pattern

State = Pattern.State


@dataclass(frozen=True, slots=True)
class Deed:
    """A button of the page's head; one that `posts` changes something."""

    label: str
    url: str
    posts: bool = False
    first: bool = False


@dataclass(frozen=True, slots=True)
class May:
    """What the person who looks may do with this version."""

    print: bool
    correct: bool
    use_again: bool
    build_on: bool
    upload: bool
    take_back: bool
    hand_in: bool
    answer: bool


def deeds_of(pattern: Pattern, may: May) -> list[Deed]:
    own, project = [pattern.pk], [pattern.project_id]
    every = (
        (may.print, Deed("Print at 1:1", reverse("pattern_sheet", args=own))),
        (may.correct, Deed("Correct the lines", reverse("pattern_correct", args=own))),
        (
            may.use_again,
            Deed("Use this one again", reverse("pattern_use_again", args=own), True, True),
        ),
        (may.build_on, Deed("Go on building", reverse("pattern_build", args=project))),
        (may.upload, Deed("Upload a new version", reverse("pattern_upload", args=project))),
        (may.take_back, Deed("Take it back", reverse("pattern_take_back", args=own), True)),
        (may.hand_in, Deed("Hand in", reverse("pattern_hand_in", args=own), True, True)),
        (may.answer, Deed("Answer it", reverse("pattern_review", args=own), first=True)),
    )
    return [deed for allowed, deed in every if allowed]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The kind of notice, and its words up to the day."""

    kind: str
    words: str


def verdict_on(pattern: Pattern) -> Verdict | None:
    """What the teacher decided, told as long as it concerns this version."""
    by = f" by {pattern.reviewed_by.display_name}" if pattern.reviewed_by else ""
    if pattern.state == State.APPROVED:
        return Verdict("done", f"Approved{by}")
    return Verdict("caution", f"Handed back{by}") if pattern.remark else None
