"""Findings as the pages show them: numbered, with lengths in the school's units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from classroom.figures.units import format_beside
from classroom.models import School
from studio.core.drawing import Finding, Weight


@dataclass(frozen=True, slots=True)
class NumberedFinding:
    """One finding for a page; `at` is its point in the drawing's millimetres.

    In a list, `also` has the numbers of further points where word for word the same is found.
    """

    number: int
    weight: str
    what: str
    value: str
    limit: str
    mend: str
    at: tuple[float, float] | None
    also: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class FindingList:
    """Iterating gives `every` finding, as the picture shows them.

    The list beside it says each thing once; cautions of the same kind are `folded` away.
    """

    every: tuple[NumberedFinding, ...]
    shown: tuple[NumberedFinding, ...]
    folded: tuple[NumberedFinding, ...]

    def __len__(self) -> int:
        return len(self.every)

    def __iter__(self) -> Iterator[NumberedFinding]:
        return iter(self.every)


SAME_SHOWN = 3
"""So many cautions with the same mend are shown before the rest is folded."""


def numbered(findings: Iterable[Finding], school: School) -> FindingList:
    """In the order they are stored: stops first. The numbers are those on the picture."""
    every: list[NumberedFinding] = []
    kinds: list[tuple[str, str]] = []
    for number, finding in enumerate(findings, start=1):
        kinds.append((finding.code, finding.mend))
        value, limit = _measured(finding, school)
        every.append(
            NumberedFinding(
                number=number,
                weight=str(finding.weight),
                what=finding.message,
                value=value,
                limit=limit,
                mend=finding.mend,
                at=finding.at,
            )
        )
    alike: dict[NumberedFinding, list[int]] = {}
    for row in every:
        alike.setdefault(replace(row, number=0, at=None), []).append(row.number)
    said: Counter[tuple[str, str]] = Counter()
    shown: list[NumberedFinding] = []
    folded: list[NumberedFinding] = []
    for first, *also in alike.values():
        row = replace(every[first - 1], also=tuple(also))
        said[kinds[first - 1]] += 1
        again = said[kinds[first - 1]] > SAME_SHOWN
        (folded if again and row.weight == Weight.CAUTION else shown).append(row)
    return FindingList(tuple(every), tuple(shown), tuple(folded))


def _measured(finding: Finding, school: School) -> tuple[str, str]:
    if finding.value_mm is None:
        return "", exact_length(finding.limit_mm, school)
    return format_beside(finding.value_mm, finding.limit_mm, school.units)


def exact_length(mm: float | None, school: School) -> str:
    """Fine enough to compare with a limit: hundredths of mm or thousandths of an inch."""
    return "" if mm is None else format_beside(mm, None, school.units)[0]


def tally(findings: Iterable[Finding]) -> dict[str, int]:
    """How many stops and cautions."""
    weights = [finding.weight for finding in findings]
    stops = sum(1 for weight in weights if weight is Weight.STOP)
    return {"stops": stops, "cautions": len(weights) - stops}


def found_words(found: dict[str, int], *, none: bool = False) -> str:
    """A tally in words: "2 stops, 1 caution". With `none` what is not there is told as well."""
    return ", ".join(
        _how_many(found[kind], word)
        for kind, word in (("stops", "stop"), ("cautions", "caution"))
        if found[kind] or none
    )


def _how_many(count: int, word: str) -> str:
    return f"{count or 'no'} {word}{'s' if count > 1 else ''}"


def counted(found: Mapping[str, int]) -> str:
    """ "1 stop, no cautions"."""
    stops = "1 stop" if found["stops"] == 1 else f"{found['stops'] or 'no'} stops"
    cautions = "1 caution" if found["cautions"] == 1 else f"{found['cautions'] or 'no'} cautions"
    return f"{stops}, {cautions}"
