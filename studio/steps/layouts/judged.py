"""Is a layout fit to be used? Whole, and without fault by the judge; else words that tell how to
mend it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from django.utils.translation import gettext, ngettext

from classroom.refusals import Refused
from studio.core.cutting import Cut, Job, Placement
from studio.core.verifying import Fault, Judgement, Watch

TOO_NEAR = ("too-near-piece", "too-near-line")
OVER_THE_EDGE = ("outside-metal", "too-near-edge")
OF_CUTS = (
    "cut-not-through",
    "cut-through-piece",
    "too-near-cut",
    "two-groups-in-part",
    "strip-too-narrow",
    "out-of-reach",
)


def judged_fit(job: Job, placements: Iterable[Placement], cuts: Sequence[Cut] = ()) -> Judgement:
    """The judgement on a layout that may be used. Raises Refused, in the language of the page,
    where pieces are in the tray or the judge has found a fault."""
    found = Watch(job).judge(list(placements), cuts)
    if found.missing:
        laid = {(p.piece, p.copy) for p in placements}
        left = job.copies - len(laid)
        raise Refused(
            ngettext(
                "%(left)d piece is still in the tray. Lay it on the metal first.",
                "%(left)d pieces are still in the tray. Lay them on the metal first.",
                left,
            )
            % {"left": left}
        )
    if found.faults:
        raise Refused(f"{what_is_wrong(found.faults)} {_how_to_mend()}")
    return found


def what_is_wrong(faults: Iterable[Fault]) -> str:
    """The faults counted by kind, in one line."""
    counts = Counter(_kind(fault) for fault in faults)
    parts = []
    if near := counts["near"]:
        words = ngettext(
            "Pieces are too near each other in %(count)d place.",
            "Pieces are too near each other in %(count)d places.",
            near,
        )
        parts.append(words % {"count": near})
    if edge := counts["edge"]:
        words = ngettext(
            "%(count)d piece lies over the edge of the metal, or too near it.",
            "%(count)d pieces lie over the edge of the metal, or too near it.",
            edge,
        )
        parts.append(words % {"count": edge})
    if turned := counts["turned"]:
        words = ngettext(
            "%(count)d piece lies in a way that the brief does not allow.",
            "%(count)d pieces lie in a way that the brief does not allow.",
            turned,
        )
        parts.append(words % {"count": turned})
    if cuts := counts["cuts"]:
        words = ngettext(
            "A cut is not right in %(count)d place.",
            "Cuts are not right in %(count)d places.",
            cuts,
        )
        parts.append(words % {"count": cuts})
    return " ".join(parts)


def _kind(fault: Fault) -> str:
    if fault.code in TOO_NEAR:
        return "near"
    if fault.code in OF_CUTS:
        return "cuts"
    return "edge" if fault.code in OVER_THE_EDGE else "turned"


def _how_to_mend() -> str:
    return gettext("The layout table shows where: move what is marked.")
