"""Findings as the pages show them: numbered, with lengths in the school's units."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from classroom.models import School
from classroom.units import Units, format_length
from studio.core.drawing import Finding, Weight


@dataclass(frozen=True, slots=True)
class NumberedFinding:
    """One finding for components/finding.html; `at` is its point in the drawing's millimetres."""

    number: int
    weight: str
    what: str
    value: str
    limit: str
    mend: str
    at: tuple[float, float] | None


def numbered(findings: Iterable[Finding], school: School) -> list[NumberedFinding]:
    """In the order they are stored: stops first. The numbers are those on the picture."""
    return [
        NumberedFinding(
            number=number,
            weight=str(finding.weight),
            what=finding.message,
            value=exact_length(finding.value_mm, school),
            limit=exact_length(finding.limit_mm, school),
            mend=finding.mend,
            at=finding.at,
        )
        for number, finding in enumerate(findings, start=1)
    ]


def exact_length(mm: float | None, school: School) -> str:
    """Fine enough to compare with a limit: hundredths of mm or thousandths of an inch.

    Sixty-fourths of an inch would show a bridge of 1.9 mm and its limit of 2 mm as the same.
    """
    if mm is None:
        return ""
    units = Units.MM if Units(school.units) is Units.MM else Units.INCH_DECIMAL
    return format_length(mm, units, places=2)


def tally(findings: Iterable[Finding]) -> dict[str, int]:
    """How many stops and cautions."""
    weights = [finding.weight for finding in findings]
    stops = sum(1 for weight in weights if weight is Weight.STOP)
    return {"stops": stops, "cautions": len(weights) - stops}
