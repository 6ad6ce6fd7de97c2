"""Keeps a list of findings short enough to read and to store."""

from __future__ import annotations

from collections.abc import Sequence

from .drawing import Finding, Weight


def shortened(findings: Sequence[Finding], most: int = 200) -> tuple[Finding, ...]:
    """The same findings, or stops first with the last one saying how many are left out."""
    if len(findings) <= most:
        return tuple(findings)
    ordered = sorted(findings, key=lambda finding: finding.weight is Weight.CAUTION)  # stable
    left = len(ordered) - most + 1
    return (
        *ordered[: most - 1],
        Finding(
            "more-findings",
            ordered[most - 1].weight,
            f"There are {left:,} more findings like these.",
            "Mend those shown first, then bring the drawing in again to see the rest.",
        ),
    )
