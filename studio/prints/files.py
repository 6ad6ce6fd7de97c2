"""Prints as PDF files in a folder, without anybody at a screen: for the demo, scripts and tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.utils.text import slugify

from classroom.models import School
from classroom.papers.printing import paper_context, pdf_bytes
from classroom.wording.school_clock import on_the_clock_of
from studio.models import CutPlan, Pattern

from .patterns import pattern_sheet
from .plans import cut_plan, placement_sheet


def write_prints(plan: CutPlan, folder: Path) -> list[Path]:
    """Write a pattern sheet for each project of the plan, its placement sheet and its cut plan.

    Answers with the files written; those of the same names are replaced. Raises ValueError for
    a plan that is not placed yet and `classroom.papers.printing.PaperIsMissing` without Pango.
    """
    school = plan.course.school
    folder.mkdir(parents=True, exist_ok=True)
    wanted: list[tuple[str, str, dict[str, Any]]] = [
        (
            f"cut-plan-{plan.pk}",
            cut_plan.TEMPLATE,
            cut_plan.cut_plan_context(plan, school=school),
        ),
        (
            f"placement-sheet-{plan.pk}",
            placement_sheet.TEMPLATE,
            placement_sheet.placement_sheet_context(plan, school=school),
        ),
    ]
    shares = plan.shares.select_related(
        "pattern__project__brief__course",
        "pattern__project__seat__student",
        "pattern__project__metal",
    )
    for share in shares:
        context = pattern_sheet.pattern_sheet_context(share.pattern, school=school)
        wanted.append((pattern_sheet_name(share.pattern), pattern_sheet.TEMPLATE, context))
    with on_the_clock_of(school):
        return [
            _write(folder / f"{name}.pdf", template, context, school)
            for name, template, context in wanted
        ]


def pattern_sheet_name(pattern: Pattern) -> str:
    """A file name that tells whose sheet it is."""
    project = pattern.project
    title = project.title or project.brief.title
    words = f"pattern-sheet-{project.student}-{title}-{pattern.number}"
    return slugify(words)[:90] or f"pattern-sheet-{pattern.pk}"


def _write(path: Path, template: str, context: dict[str, Any], school: School) -> Path:
    path.write_bytes(pdf_bytes(template, paper_context(school) | context))
    return path
