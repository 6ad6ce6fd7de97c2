"""Everything that the page for building from shapes shows."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.urls import reverse

from classroom.figures.units import Units, format_length
from classroom.models import School
from inventory.models import Metal
from studio.core.building import EXAMPLES, KINDS, Recipe, Role, Step, build
from studio.core.building.kinds import ALL, HOLE, SHAPES, STROKE, TILING
from studio.core.drawing import Limits
from studio.core.picturing.paths import Flip, numbers, polygons_of
from studio.forms.patterns.building import Mistyped, shown
from studio.models import Project
from studio.steps.patterns.build import Made, Opened
from studio.views.patterns.findings import found_words, numbered, tally
from studio.views.patterns.picture import thumbnail

from .picture import building_picture
from .sentences import sentence, title_of

METALS_SHOWN = 4


@dataclass(frozen=True, slots=True)
class RecipeRow:
    """One line of the recipe."""

    id: str
    number: int
    title: str
    text: str
    remark: str
    chosen: bool
    first: bool
    last: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """A kind of step to add, with a little picture of it where it has a shape."""

    name: str
    label: str
    view_box: str
    path: str


def workbench(
    project: Project,
    now: Opened,
    made: Made,
    *,
    chosen_id: str,
    school: School,
    note: str = "",
    error: str = "",
    typed: Mistyped | None = None,
) -> dict[str, Any]:
    """The context of `studio/building/work.html`."""
    units = Units(school.units)
    draft = now.draft
    recipe, limits = draft.recipe, project.brief.limits
    chosen = recipe.step(chosen_id)
    findings = numbered(made.checked.findings, school)
    drawing = made.checked.drawing
    return {
        "project": project,
        "base": now.base,
        "unused": now.unused,
        "begun_from": now.begun_from,
        "picture": building_picture(recipe, made, findings, limits, chosen=chosen, units=units),
        "rows": _rows(recipe, made, chosen, units),
        "chosen": chosen,
        "chosen_title": title_of(chosen) if chosen else "",
        "groups": shown(chosen, units, typed) if chosen else [],
        "own_name": _own_name(chosen, typed),
        "wrong_at_chosen": error if typed is not None and chosen is not None else "",
        "wrong_field": typed.wrong_field if typed is not None else "",
        "can_take_lawful_place": chosen is not None
        and chosen.kind.name == "hole"
        and chosen.text("found") == "here",
        "findings": findings,
        "check_words": found_words(tally(made.checked.findings), none=True),
        "verdict": _verdict(tally(made.checked.findings)),
        "figures": _figures(project, made, units),
        "can_undo": bool(draft.past),
        "can_redo": bool(draft.future),
        "note": note,
        "error": error,
        "shape_choices": choices(tuple(kind.name for kind in (*SHAPES, TILING))),
        "other_choices": choices((HOLE.name, STROKE.name)),
        "all_choices": choices(tuple(kind.name for kind in ALL)),
        "has_metal": bool(drawing.pieces),
        "roles": [
            (str(Role.METAL), "adds metal"),
            (str(Role.WINDOW), "is cut away"),
            (str(Role.LINE), "is a surface line"),
        ],
        "next_role": str(Role.WINDOW) if drawing.pieces else str(Role.METAL),
        "examples": example_choices(),
        "units_hint": "mm" if units is Units.MM else "in",
    }


def _verdict(found: dict[str, int]) -> dict[str, str]:
    """What stands below the picture: the kind of its mark, its words, and where it leads."""
    if found["stops"]:
        return {"kind": "stop", "words": found_words(found), "url": "#s-check"}
    if found["cautions"]:
        return {"kind": "caution", "words": f"{found_words(found)}, no stop", "url": "#s-check"}
    return {"kind": "done", "words": "No finding under the brief’s limits", "url": ""}


def _own_name(chosen: Step | None, typed: Mistyped | None) -> str:
    name = "" if chosen is None else chosen.name
    return name if typed is None else typed.sent.get("name", name)[:160]


def _rows(recipe: Recipe, made: Made, chosen: Step | None, units: Units) -> list[RecipeRow]:
    count = len(recipe.steps)
    return [
        RecipeRow(
            id=step.id,
            number=place,
            title=title_of(step),
            text=sentence(step, units),
            remark=made.built.remarks.get(step.id, ""),
            chosen=chosen is not None and step.id == chosen.id,
            first=place == 1,
            last=place == count,
        )
        for place, step in enumerate(recipe, start=1)
    ]


def _figures(project: Project, made: Made, units: Units) -> dict[str, Any]:
    """Size, metal, weight and, where the metal has a price, what the metal in it is worth."""
    drawing = made.checked.drawing
    if not drawing.pieces:
        return {}
    x0, y0, x1, y1 = drawing.bounds_mm
    allowed = project.brief.metals.all()
    metals = [project.metal] if project.metal else list(allowed[:METALS_SHOWN])
    copies = project.patterns.current().values_list("copies", flat=True).first() or 1
    area = drawing.area_mm2 * copies
    return {
        "width": format_length(x1 - x0, units),
        "height": format_length(y1 - y0, units),
        "pieces": len(drawing.pieces),
        "windows": drawing.window_count,
        "saw_line": format_length(drawing.saw_line_mm, units, places=0),
        "area_mm2": area,
        "copies": copies,
        "metals": [
            {"metal": metal, "mass_g": metal.mass_g(area), "worth": _worth(metal, area)}
            for metal in metals
        ],
    }


def _worth(metal: Metal, area_mm2: float) -> Decimal | None:
    """What the metal in the pieces is worth at the newest price, waste and use not found_words."""
    price = metal.prices.in_force().first()
    if price is None:
        return None
    return (price.per_mm2 * Decimal(str(round(area_mm2, 3)))).quantize(Decimal("0.01"))


@lru_cache(maxsize=8)
def choices(names: tuple[str, ...]) -> tuple[Choice, ...]:
    return tuple(_choice(name) for name in names)


def _choice(name: str) -> Choice:
    kind = KINDS[name]
    values: dict[str, Any] = {"id": "1", "kind": name}
    if name == "tiling":
        values |= {"columns": 2, "rows": 2}
    if kind.of == "all":
        return Choice(name, kind.label, "", "")
    if kind.of == "hole":
        values |= {"found": "here", "diameter": 6}
    return Choice(name, kind.label, *_icon(Recipe.from_json({"version": 1, "steps": [values]})))


def _icon(recipe: Recipe) -> tuple[str, str]:
    """A view box and a path; whole drawings show their pieces, single marks their own look."""
    built = build(recipe, Limits())
    flip = Flip(0.0, 0.0, 0.05)
    outlines = [each for shape in built.shown.values() for each in polygons_of(shape.own)]
    path = flip.path(outlines)
    if not outlines:
        path = "M-10 0H10"
    boxes = [each.bounds for each in outlines] or [(-10.0, -10.0, 10.0, 10.0)]
    x0, y0 = min(box[0] for box in boxes), min(box[1] for box in boxes)
    x1, y1 = max(box[2] for box in boxes), max(box[3] for box in boxes)
    span = 1.12 * max(x1 - x0, y1 - y0)
    left, top = (x0 + x1 - span) / 2, (-y0 - y1 - span) / 2
    return numbers(left, top, span, span), path


@lru_cache(maxsize=1)
def example_choices() -> tuple[dict[str, str], ...]:
    found = []
    for example in EXAMPLES:
        sheet = build(example.recipe, Limits()).sheet
        x0, y0, x1, y1 = sheet.bounds_mm
        span = 1.1 * max(x1 - x0, y1 - y0)
        left, top = (x0 + x1 - span) / 2, (-y0 - y1 - span) / 2
        path = ""
        for layer, shapes in sheet.filled:
            for shape in shapes:
                points = getattr(shape, "points", None)
                if points and layer in ("outlines", "windows"):
                    path += "M" + "L".join(numbers(x, -y) for x, y in points) + "Z"
        found.append(
            {
                "name": example.name,
                "title": example.title,
                "teaches": example.teaches,
                "view_box": numbers(left, top, span, span),
                "path": path,
            }
        )
    return tuple(found)


def other_recipes(project: Project, now: Opened) -> list[dict[str, Any]]:
    """Versions that were built from shapes other than those shown, newest first, with a picture."""
    built = project.patterns.filter(recipe__isnull=False).defer(
        "tracing", "findings_json", "recipe"
    )
    if now.begun_from is not None and not now.unused:
        built = built.exclude(pk=now.begun_from.pk)
    return [{"pattern": one, "thumb": thumbnail(one)} for one in built[:8]]


def crumbs(project: Project) -> list[dict[str, str]]:
    return [
        {"label": "Briefs", "url": reverse("briefs")},
        {"label": project.brief.title, "url": reverse("brief", args=[project.brief_id])},
        {"label": "My project", "url": reverse("project", args=[project.pk])},
        {"label": "Build from shapes"},
    ]
