"""Errands of teachers: an old offcut is read out of a photo, or out of a drawing of its outline."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

from classroom.refusals import Refused
from inventory.models import Metal, SentForm
from inventory.queries import metals_for
from inventory.rack.stock import receive_offcut
from studio.core.reading import Asked, Upload
from studio.core.reading.metal import MetalPhoto
from studio.models import Errand
from studio.steps.rack.offcut_outline import DrawnOutline, OutlineNotClear, read_outline
from studio.steps.rack.photographed_metal import Photographed, read_photo

from .files import keep_result
from .keeping import Deed, let_go_of_kept, turned_down


def photograph(errand: Errand) -> Deed:
    """What was read is the result; it goes on the rack only by the teacher's word."""
    asked = errand.asked
    found = read_photo(
        Upload(errand.content(), Asked(errand.title)),
        _metal(errand),
        measured_mm=_decimal(asked["measured"]),
        traced=asked["traced"],
    )
    if not isinstance(found, Photographed):
        return turned_down(errand, str(found.why), "file")

    def deed() -> dict[str, Any]:
        keep_result(errand, json.dumps(found.photo.to_json()).encode())
        let_go_of_kept(errand)
        return {"read": True}

    return deed


def photographed(errand: Errand) -> Photographed:
    """What came of `photograph`. Raises FileNotFoundError, and Refused for a metal that went."""
    photo = MetalPhoto.from_json(json.loads(errand.result_content()))
    asked = errand.asked
    return Photographed(photo, _metal(errand), _decimal(asked["measured"]), asked["traced"])


def outline(errand: Errand) -> Deed:
    """The outcome names the stock piece, says that it is there already, or has the stops."""
    asked = errand.asked
    metal = _metal(errand)
    upload = Upload(errand.content(), Asked(errand.title, asked["width_mm"]))
    try:
        drawn = read_outline(upload)
    except OutlineNotClear as unclear:
        stops = [finding.to_json() for finding in unclear.findings]
        return turned_down(errand, str(unclear), "file", stops=stops)
    except Refused as refusal:
        return turned_down(errand, str(refusal), "file")
    if not isinstance(drawn, DrawnOutline):
        return turned_down(errand, str(drawn.why), "file")

    def deed() -> dict[str, Any]:
        let_go_of_kept(errand)
        if not SentForm.is_first(asked["once"], errand.owner):
            return {"again": True}
        piece = receive_offcut(
            errand.owner.school,
            metal,
            drawn.outline,
            acting=errand.owner,
            cost=Decimal(asked["cost"]),
            reason=asked["reason"],
            clean_edges=asked["clean_edges"],
            measured_mm=_decimal(asked["measured"]),
            place=asked["place"],
        )
        cautions = [f"{one.message} {one.mend}".strip() for one in drawn.cautions[:5]]
        return {"piece": piece.pk, "from": drawn.scale_from, "cautions": cautions}

    return deed


def _metal(errand: Errand) -> Metal:
    found = metals_for(errand.owner).filter(pk=errand.asked["metal"], retired_at=None).first()
    if found is None:
        raise Refused("That metal is not on the list any more. Choose another one.")
    return found


def _decimal(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)
