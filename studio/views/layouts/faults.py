"""What is wrong with a layout, in plain words: which piece, how near, and what is the least."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from classroom.figures.units import format_beside
from studio.core.verifying import Fault
from studio.steps.layouts.judged import OF_CUTS

Labels = Mapping[tuple[str, int], str]
MOST_TOLD = 200


def fault_rows(faults: tuple[Fault, ...], labels: Labels, units: str) -> list[dict[str, Any]]:
    """For the page's script and for its list."""
    return [
        {
            "code": fault.code,
            "piece": fault.piece,
            "copy": fault.copy,
            "other": fault.other,
            "other_copy": fault.other_copy,
            "at": None if fault.at is None else [round(value, 3) for value in fault.at],
            "value_mm": None if fault.value_mm is None else round(fault.value_mm, 3),
            "limit_mm": fault.limit_mm,
            "words": words(fault, labels, units),
            "on": None if fault.piece else fault.metal,
        }
        for fault in faults[:MOST_TOLD]
    ]


def words(fault: Fault, labels: Labels, units: str) -> str:
    """One sentence for a fault."""
    names = {"piece": labels.get((fault.piece, fault.copy), "?")}
    if fault.cut is not None:
        names["cut"] = str(fault.cut + 1)
    if fault.metal is not None:
        names["metal"] = fault.metal
    if fault.other is not None:
        names["other"] = labels.get((fault.other, fault.other_copy or 0), "?")
    if fault.value_mm is not None:
        names["far"], names["least"] = format_beside(fault.value_mm, fault.limit_mm, units)
    return _sentence(fault) % names


def _sentence(fault: Fault) -> str:
    touching = fault.value_mm is not None and fault.value_mm <= 0.0
    match fault.code:
        case "too-near-piece" if touching:
            return _("%(piece)s lies on %(other)s.")
        case "too-near-piece":
            return _("%(piece)s is %(far)s from %(other)s; %(least)s is the least.")
        case "too-near-line":
            return _(
                "%(piece)s and %(other)s lie side by side, %(far)s apart; a saw line between "
                "them needs %(least)s."
            )
        case "too-near-edge" if touching:
            return _("%(piece)s touches the edge; %(least)s is the least here.")
        case "too-near-edge":
            return _("%(piece)s is %(far)s from the edge; %(least)s is the least here.")
        case "outside-metal":
            return _("%(piece)s lies over the edge of the metal.")
        case "mirror-not-allowed":
            return _("%(piece)s must not be mirrored.")
        case "turn-not-allowed":
            return _("%(piece)s must not be turned like this.")
        case "against-the-grain":
            return _("%(piece)s lies across the grain of the metal.")
        case "fixed-moved":
            return _("%(piece)s is fixed and must stay where it was.")
        case code if code in OF_CUTS:
            return _of_cut(fault, touching=touching)
        case "placed-twice":
            return _("%(piece)s is there twice.")
        case _:
            return _("%(piece)s does not belong here.")


def _of_cut(fault: Fault, *, touching: bool) -> str:
    """What is wrong where metal is parted."""
    measured = fault.value_mm is not None
    match fault.code:
        case "cut-through-piece":
            return _("Cut %(cut)s goes through %(piece)s.")
        case "too-near-cut" if touching:
            return _("%(piece)s touches the edge that cut %(cut)s makes; %(least)s is the least.")
        case "too-near-cut":
            return _(
                "%(piece)s is %(far)s from the edge that cut %(cut)s makes; %(least)s is the least."
            )
        case "two-groups-in-part":
            return _("%(piece)s and %(other)s are two students’, and no cut parts them.")
        case "strip-too-narrow" if measured and fault.cut is not None:
            return _("Cut %(cut)s of %(metal)s leaves a strip of %(far)s; %(least)s is the least.")
        case "strip-too-narrow":
            return _("A part of %(metal)s is too narrow to be cut off.")
        case "out-of-reach" if measured:
            return _("Cut %(cut)s of %(metal)s needs %(far)s; the tool reaches %(least)s.")
        case "out-of-reach":
            return _("Cut %(cut)s of %(metal)s is out of the tool’s reach.")
        case _ if fault.piece:
            return _("The part with %(piece)s would be in several pieces; a blank is one.")
        case _ if fault.cut is not None:
            return _("Cut %(cut)s of %(metal)s does not go from edge to edge of its part.")
        case _:
            return _("A cut names no part that is there.")
