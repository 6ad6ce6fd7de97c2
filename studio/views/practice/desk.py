"""One's own try at a practice sheet, as the layout table shows it.

The table's pages and script know layouts. A try is shown as one that no database has: the sheet's
job, with what the person has laid on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from classroom.models import School
from studio.core.cutting.formats import job_to_json, measures_to_json
from studio.core.laying_out.beside import for_two_mm
from studio.core.picturing.plan import labels_of_pieces
from studio.core.practice import BY_CODE, Sheet, name_of
from studio.core.verifying import Judgement, measurable
from studio.models import Layout, PracticeTry
from studio.running.layouts import judging
from studio.views.layouts.state import Looked, judged_state, table_state

ADDRESSES = ("change", "undo", "redo", "place")


def looked(sheet: Sheet, own: PracticeTry, *, with_change: bool = False) -> Looked:
    """The try as it stands, judged; `with_change` beside its figures before the last step.

    Raises Busy where too much is judged at this moment.
    """
    layout = _as_layout(sheet, own)
    before = _figures(_as_layout(sheet, _before(own)), own) if with_change and own.past else None
    placements = layout.laid
    judgement, shown = judging.look(_memory(own), layout.asked, placements)
    return Looked(
        layout,
        placements,
        judgement,
        shown,
        _told(layout, judgement),
        before,
        labels_of_pieces(layout.asked),
    )


def state_of(sheet: Sheet, now: Looked, school: School) -> dict[str, Any]:
    """For the table's script that begins with nothing."""
    names = {wanted.id: _(name_of(wanted.id)) for wanted in sheet.job.pieces}
    urls = {name: reverse(f"practice_{name}", args=[sheet.code]) for name in ADDRESSES}
    urls |= {"page": reverse("practice_sheet", args=[sheet.code]), "back": reverse("practice")}
    state = table_state(now, school, urls=urls, names=names, changes=True)
    for metal in state["metal"]:
        metal["name"] = _("the metal")
    return state | state_after(now, school)


def state_after(now: Looked, school: School) -> dict[str, Any]:
    """For the script that knows pieces and metal: where all lie, and what the judge says."""
    layout = now.layout
    judged = judged_state(now, school)
    judged["figures"] = [row for row in judged["figures"] if row["key"] != "price"]
    return {
        "version": layout.version,
        "placements": layout.placements,
        "pinned": [],
        "undo": len(layout.past),
        "redo": len(layout.future),
        "judged": judged,
    }


def _figures(layout: Layout, own: PracticeTry) -> Mapping[str, Any]:
    return _told(layout, judging.judge(_memory(own), layout.asked, layout.laid))


def _told(layout: Layout, judged: Judgement) -> Mapping[str, Any]:
    missing = layout.asked.copies - len({(p.piece, p.copy) for p in layout.laid})
    lying = measurable(layout.asked, layout.laid)
    # Metal for practice costs nothing.
    return measures_to_json(judged.measures) | {
        "for_two_mm": for_two_mm(layout.asked, lying, judged.measures),
        "price": "0",
        "missing": missing,
    }


def _memory(own: PracticeTry) -> str:
    return f"practice-{own.person_id}-{own.sheet}"


def _before(own: PracticeTry) -> PracticeTry:
    """The try as it was before its last step."""
    laid = {(p["piece"], p["copy"]): p for p in own.placements}
    for piece, copy, spot, _after in own.past[-1]["moved"]:
        laid.pop((piece, copy), None)
        if spot is not None:
            metal, mirror, turn, x, y = spot
            laid[piece, copy] = {
                "piece": piece,
                "copy": copy,
                "metal": metal,
                "mirror": mirror,
                "turn_deg": turn,
                "x_mm": x,
                "y_mm": y,
            }
    return PracticeTry(person=own.person, sheet=own.sheet, placements=list(laid.values()))


def _as_layout(sheet: Sheet, own: PracticeTry) -> Layout:
    return Layout(
        number=sheet.number,
        owner=own.person,
        job=_job(sheet.code),
        placements=own.placements,
        past=own.past,
        future=own.future,
        version=own.version,
    )


@lru_cache(maxsize=32)
def _job(code: str) -> dict[str, Any]:
    return job_to_json(BY_CODE[code].job)
