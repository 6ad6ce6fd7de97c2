"""Percentiles, and the table that they are read from. No Django."""

from __future__ import annotations

from collections.abc import Sequence

from .wanted import Seen

GOAL_RATIO = 3.0
"""p95 of a busy school against that of one reader in an idle one."""


def percentile(values: Sequence[float], share: float) -> float:
    """The smallest value that `share` (0 to 1) of all values do not exceed; 0 of none."""
    if not values:
        return 0.0
    ordered = sorted(values)
    place = -(-len(ordered) * share // 1)  # rounded up
    return ordered[max(0, min(len(ordered) - 1, int(place) - 1))]


def table(database: str, modes: Sequence[Seen]) -> str:
    """The modes as columns of a Markdown table; the first is what the others are compared with."""
    first = modes[0]

    def row(name: str, cells: Sequence[str]) -> str:
        return f"| {name} | {' | '.join(cells)} |"

    def times(share: float) -> list[str]:
        return [f"{percentile(mode.times_ms, share):.0f}" for mode in modes]

    def ratios(share: float) -> list[str]:
        return [f"{ratio(first, mode, share):.2f}" for mode in modes]

    return "\n".join(
        (
            row(database, [mode.name for mode in modes]),
            row("---", ["---"] * len(modes)).replace(" ", ""),
            row("p50, ms", times(0.5)),
            row("p95, ms", times(0.95)),
            row("p50 / idle", ratios(0.5)),
            row("p95 / idle", ratios(0.95)),
            row("pages read", [str(len(mode.times_ms)) for mode in modes]),
            row("uploads, prints, plans taken", [str(mode.done) for mode in modes]),
            row("of these ended well", [str(mode.finished) for mode in modes]),
            row("told to wait", [str(mode.waited) for mode in modes]),
            row("errors", [str(len(mode.errors)) for mode in modes]),
        )
    )


def ratio(idle: Seen, mode: Seen, share: float) -> float:
    alone = percentile(idle.times_ms, share)
    return percentile(mode.times_ms, share) / alone if alone else 0.0


def verdict(modes: Sequence[Seen]) -> str:
    """Whether the goal was met: p95 at most three times idle, and no error."""
    worst = max(ratio(modes[0], mode, 0.95) for mode in modes)
    errors = sum(len(mode.errors) for mode in modes)
    met = worst <= GOAL_RATIO and not errors
    return (
        f"{'Goal met' if met else 'Goal missed'}: p95 at most {worst:.2f} times idle "
        f"({GOAL_RATIO:.0f} wanted), {errors} errors (0 wanted)."
    )
