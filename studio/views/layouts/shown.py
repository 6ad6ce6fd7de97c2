"""What the layout table's page shows: the state for its script, and forms for those without."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.http import QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _

from classroom.figures.units import Units, format_size, length_to_type
from classroom.models import School, User
from classroom.refused_forms import Wrong
from studio.forms.layouts.placing import place_choices
from studio.models import Layout
from studio.queries.layouts import layouts_for
from studio.steps.layouts.begin import MOST_TRIES
from studio.steps.layouts.may_lay import why_closed, why_not_theirs
from studio.steps.layouts.stock import MOST_CHOSEN, offered, used_by
from studio.steps.layouts.tries import name_of
from studio.views.own_layouts.handing_in import part_of_table
from studio.views.patterns.correcting_state import unit_words

from .picture import table_picture
from .state import Looked, back_of, missing_of, whole_state

LISTED_FAULTS = 40


def table_context(
    user: User,
    now: Looked,
    which: tuple[str, int] | None,
    *,
    typed: QueryDict | None = None,
    wrong: Wrong | None = None,
    asked: QueryDict | None = None,
) -> dict[str, Any]:
    """Everything; `which` is the copy of a piece that the forms are about."""
    layout, school = now.layout, user.school
    state = whole_state(now, user)
    fixed = why_not_theirs(layout, user) or why_closed(layout, user)
    return (
        forms_context(now, state, school, which, typed=typed, wrong=wrong, asked=asked)
        | {
            "layout": layout,
            "name": name_of(layout),
            "project": layout.project,
            "plan": layout.plan,
            "why_fixed": fixed,
            "stock": _stock(layout, user),
            "most_stock": MOST_CHOSEN,
            "tries": _tries(layout, user),
            "most_tries": MOST_TRIES,
            "crumbs": _crumbs(layout),
        }
        | part_of_table(user, layout)
    )


def forms_context(
    now: Looked,
    state: Mapping[str, Any],
    school: School,
    which: tuple[str, int] | None,
    *,
    typed: QueryDict | None = None,
    wrong: Wrong | None = None,
    asked: QueryDict | None = None,
) -> dict[str, Any]:
    """The table and its forms for one piece, whatever it is a table of."""
    rows = _pieces(now, Units(school.units))
    chosen = next((row for row in rows if (row["piece"], row["copy"]) == which), None)
    if chosen is None:
        chosen = next((row for row in rows if not row["lies"]), rows[0] if rows else None)
    about = None if chosen is None else (chosen["piece"], chosen["copy"])
    parting = state.get("parting") or {}
    sent: Mapping[str, Any] = asked or {}
    return {
        "state": state,
        "parting": parting,
        "cut": _named(parting.get("cuts", []), sent.get("cut", "")),
        "part": _named(parting.get("parts", []), sent.get("part", "")),
        "version": now.layout.version,
        "may_change": state["may"]["change"],
        "picture": table_picture(now, school.units),
        "figures": state["judged"]["figures"],
        "faults": state["judged"]["faults"][:LISTED_FAULTS],
        "more_faults": max(0, len(now.judgement.faults) - LISTED_FAULTS),
        "pieces": rows,
        "in_tray": sum(len(row["copies"]) for row in missing_of(now.job, now.placements)),
        "chosen": chosen,
        "places": []
        if about is None
        else place_choices(now.job, now.placements, now.labels, school.units, about),
        "unit_name": unit_words(school)["name"],
        "typed": typed if wrong is not None else {},
        "wrongs": [wrong] if wrong is not None else [],
    }


def _named(rows: Sequence[Mapping[str, Any]], wanted: str) -> Mapping[str, Any] | None:
    """The cut or part that was asked for, else the first one."""
    first = rows[0] if rows else None
    return next((row for row in rows if row["id"] == wanted), first)


def _crumbs(layout: Layout) -> list[dict[str, str]]:
    what = _("Cut plan") if layout.plan_id is not None else _("Project")
    return [{"label": what, "url": back_of(layout)}, {"label": _("Layout table")}]


def _pieces(now: Looked, units: Units) -> list[dict[str, Any]]:
    """A row for each copy of each piece: what it is, and where it lies."""
    lies = {(p.piece, p.copy): p for p in now.placements}
    pinned = {(piece, copy) for piece, copy in now.layout.pinned}
    fixed = {(p.piece, p.copy) for p in now.job.fixed}
    wrong = {(f.piece, f.copy) for f in now.judgement.faults}
    wrong |= {(f.other, f.other_copy or 0) for f in now.judgement.faults if f.other is not None}
    rows = []
    for wanted in now.job.pieces:
        x0, y0, x1, y1 = wanted.outline.bounds
        for copy in range(wanted.count):
            key = (wanted.id, copy)
            p = lies.get(key)
            row: dict[str, Any] = {
                "piece": wanted.id,
                "copy": copy,
                "which": f"{wanted.id}|{copy}",
                "label": now.labels.get(key, "?"),
                "size": format_size(x1 - x0, y1 - y0, units),
                "lies": p is not None,
                "pinned": key in pinned,
                "fixed": key in fixed,
                "wrong": key in wrong,
                "may_mirror": wanted.may_mirror,
            }
            if p is not None and p.metal in now.job.stock_by_id:
                left, low, _right, _top = p.lay(wanted.outline).bounds
                row |= {
                    "metal": p.metal,
                    "x": _typed(left, units),
                    "y": _typed(low, units),
                    "turn": f"{p.turn_deg % 360.0:.2f}".rstrip("0").rstrip("."),
                    "mirror": p.mirror,
                }
            rows.append(row)
    return rows


def _typed(mm: float, units: Units) -> str:
    mm = round(mm, 3)
    return ("-" if mm < 0 else "") + length_to_type(abs(mm), units)


def _stock(layout: Layout, user: User) -> list[dict[str, Any]]:
    """What can be laid out on: what is used now first, then what the rack offers."""
    used = {one.code: one.rectangle for one in used_by(layout)}
    units = Units(user.school.units)
    rows = []
    for piece in offered(layout):
        rectangle = used.get(piece.code)
        rows.append(
            {
                "code": piece.code,
                "metal": str(piece.metal),
                "kind": _("full sheet") if piece.kind == "sheet" else _("offcut"),
                "size": format_size(piece.width_mm, piece.height_mm, units),
                "used": piece.code in used,
                "sides": ["", "", "", ""]
                if rectangle is None
                else [_typed(value, units) for value in rectangle],
            }
        )
    known = {row["code"] for row in rows}
    rows += [
        {
            "code": code,
            "metal": "",
            "kind": _("not on the rack now"),
            "size": "",
            "used": True,
            "sides": ["", "", "", ""]
            if rectangle is None
            else [_typed(value, units) for value in rectangle],
        }
        for code, rectangle in used.items()
        if code not in known
    ]
    rows.sort(key=lambda row: not row["used"])
    return rows


def _tries(layout: Layout, user: User) -> list[dict[str, Any]]:
    """All tries of the same project or plan, with who laid each out."""
    same = layouts_for(user).filter(project=layout.project_id, plan=layout.plan_id)
    rows = same.select_related("owner").defer("job", "past", "future", "placements")
    return [
        {
            "layout": one,
            "name": name_of(one),
            "url": reverse("layout", args=[one.pk]),
            "current": one.pk == layout.pk,
            "chosen": one.chosen,
            "own": one.owner_id == user.pk,
            "owner": "" if one.owner_id == user.pk else str(one.owner),
            "by_server": one.origin == Layout.Origin.SERVER,
            "handed_in": one.is_handed_in,
        }
        for one in rows
    ]
