"""What the layout table's script and its plain forms ask for, read strictly."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final

from django.core.validators import slug_re
from django.utils.translation import gettext as _

from classroom.figures.units import LengthError, LengthUnit, parse_length_mm
from classroom.models import User
from classroom.refusals import Refused
from studio.core.cutting.by_hand import placements_from_json
from studio.core.laying_out.laid import WITHIN_MM
from studio.steps.layouts.change import KEY_LENGTH, MOST_AT_ONCE, Move
from studio.steps.layouts.stock import MOST_CHOSEN, Chosen

MOST_BYTES: Final = 200_000
LONGEST_ID: Final = 200


def moves_asked(sent: Mapping[str, str]) -> list[Move]:
    """`changes` as JSON: a list of {"piece", "copy", "to"}. Raises Refused for anything else."""
    text = sent.get("changes", "")
    try:
        if len(text) > MOST_BYTES:
            raise ValueError
        found = json.loads(text)
        if not isinstance(found, list) or not 1 <= len(found) <= MOST_AT_ONCE:
            raise ValueError
        return [_move(each) for each in found]
    except (ValueError, RecursionError) as garbled:  # JobError is one
        raise not_understood() from garbled


def not_understood() -> Refused:
    return Refused(_("That change was not understood. Load the page again and try once more."))


def _move(data: Any) -> Move:
    if not isinstance(data, dict) or set(data) != {"piece", "copy", "to"}:
        raise ValueError
    to = data["to"]
    if to is not None and not isinstance(to, dict):
        raise ValueError
    lies = {"piece": data["piece"], "copy": data["copy"], "metal": ""} | (to or {})
    if (lies["piece"], lies["copy"]) != (data["piece"], data["copy"]):
        raise ValueError
    (placed,) = placements_from_json({"to": [lies]}, "to", most=1, within_mm=1e6)
    return Move(placed.piece, placed.copy, None if to is None else placed)


def sending(person: User, sent: Mapping[str, str]) -> dict[str, Any]:
    """Who sends, which version they saw, and what the page calls its sending."""
    return {"acting": person, "seen": _seen(sent), "key": _key(sent)}


def _key(sent: Mapping[str, str]) -> str:
    """What a page of ours calls its sending; anything else names none."""
    key = sent.get("key", "")
    return key if len(key) <= KEY_LENGTH and slug_re.fullmatch(key) else ""


def _seen(sent: Mapping[str, str]) -> int | None:
    """The version that the page shows; one that never was where what is sent is no number."""
    text = sent.get("seen", "")
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 10 else -1


def piece_of(sent: Mapping[str, str]) -> tuple[str, int]:
    """Which copy of which piece: `piece` and `copy`, or both in `which` as "piece|copy"."""
    piece, copy = sent.get("piece", ""), sent.get("copy", "0")
    if which := sent.get("which", ""):
        piece, _bar, copy = which.rpartition("|")
    if not (copy.isascii() and copy.isdecimal() and len(copy) < 7) or len(piece) > LONGEST_ID:
        raise Refused(_("Choose a piece first."))
    return piece, int(copy)


def signed_length(text: str, unit: LengthUnit) -> float:
    """A place along an axis: as a length, but it may lie on the other side of nothing.

    Raises Refused.
    """
    written = text.strip()
    back = written[:1] in ("-", "\N{MINUS SIGN}")
    try:
        length = parse_length_mm(
            written[1:] if back else written, unit, least_mm=0, most_mm=WITHIN_MM
        )
    except LengthError as odd:
        raise Refused(str(odd)) from odd
    return -length if back else length


def degrees(text: str) -> float:
    """A turn in degrees, anticlockwise. Raises Refused."""
    try:
        if len(text) > 12:
            raise ValueError
        found = float(text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-").rstrip("°"))
    except ValueError:
        raise Refused(_("Write the turn in degrees, such as 90 or 12.5.")) from None
    if not -360_000.0 <= found <= 360_000.0:
        raise Refused(_("Write the turn in degrees, such as 90 or 12.5."))
    return found


def stock_asked(sent: Any, unit: LengthUnit) -> list[Chosen]:
    """The stock pieces ticked (`stock`), each whole or with the rectangle in its fields.

    The fields of one go by its code: `x0-CODE`, `y0-CODE`, `x1-CODE`, `y1-CODE`; all four empty
    mean the whole of it. A script may send `changes` instead: a JSON list of {"code",
    "rectangle"}. Raises Refused.
    """
    if "changes" in sent:
        return _stock_json(sent["changes"])
    names = sent.getlist("stock")
    if not 1 <= len(names) <= MOST_CHOSEN:
        raise Refused(
            _("Choose 1 to %(most)s stock pieces, each only once.") % {"most": MOST_CHOSEN}
        )
    found = []
    for code in names:
        typed = [sent.get(f"{side}-{code}", "").strip() for side in ("x0", "y0", "x1", "y1")]
        if not any(typed):
            found.append(Chosen(code))
            continue
        if not all(typed):
            raise Refused(
                _("Give all four numbers of a rectangle, or none for the whole of %(code)s.")
                % {"code": code[:24]}
            )
        x0, y0, x1, y1 = (signed_length(each, unit) for each in typed)
        found.append(Chosen(code, (x0, y0, x1, y1)))
    return found


def _stock_json(text: str) -> list[Chosen]:
    try:
        found = json.loads(text) if len(text) <= MOST_BYTES else None
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, list) or not 1 <= len(found) <= MOST_CHOSEN:
        raise not_understood()
    chosen = []
    for each in found:
        code = each.get("code") if isinstance(each, dict) else None
        rectangle = each.get("rectangle") if isinstance(each, dict) else None
        if not isinstance(code, str) or len(code) > 24:
            raise not_understood()
        if rectangle is None:
            chosen.append(Chosen(code))
            continue
        numbers = (
            isinstance(rectangle, list)
            and len(rectangle) == 4
            and all(
                isinstance(value, int | float) and not isinstance(value, bool)
                for value in rectangle
            )
        )
        if not numbers or not all(abs(value) <= 1e6 for value in rectangle):
            raise not_understood()
        x0, y0, x1, y1 = (float(value) for value in rectangle)
        chosen.append(Chosen(code, (x0, y0, x1, y1)))
    return chosen
