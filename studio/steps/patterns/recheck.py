"""What does the drawing say now, with these labels and these limits?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from studio.core.checking import check
from studio.core.drawing import Drawing, Finding, Limits, Weight
from studio.core.reading import Assembly, Tracing, assemble
from studio.core.shortening import shortened
from studio.models import Pattern


@dataclass(frozen=True, slots=True)
class Checked:
    """A drawing with all its findings: the reader's first, stops before cautions."""

    drawing: Drawing
    findings: tuple[Finding, ...]
    labels: Mapping[str, str]

    @property
    def stops(self) -> int:
        return sum(1 for finding in self.findings if finding.weight is Weight.STOP)

    @property
    def cautions(self) -> int:
        return len(self.findings) - self.stops


def look_at(tracing: Tracing, relabels: Mapping[str, str], limits: Limits) -> Checked:
    """Assemble the tracing's lines as labelled and measure the drawing against the limits."""
    assembly: Assembly = assemble(tracing, relabels)
    findings = (*tracing.findings, *assembly.findings, *check(assembly.drawing, limits))
    ordered = shortened(sorted(findings, key=lambda finding: finding.weight is not Weight.STOP))
    labels = {line: str(label) for line, label in assembly.labels.items()}
    return Checked(assembly.drawing, ordered, labels)


def look_again(pattern: Pattern) -> Checked:
    """The same for a stored pattern, with its brief's limits of today. Saves nothing."""
    return look_at(pattern.traced, pattern.relabels, pattern.project.brief.limits)


def put_down(pattern: Pattern, checked: Checked) -> None:
    """Write what was found into the pattern (the caller saves it)."""
    pattern.drawing_json = checked.drawing.to_json()
    pattern.findings_json = [finding.to_json() for finding in checked.findings]
