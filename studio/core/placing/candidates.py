"""A plan that the search has judged, and the reasons it gives for what is not placed."""

from __future__ import annotations

from dataclasses import dataclass

from studio.core.cutting.job import Job, Measures, Offcut, Placement

from .laying.blocks import Form
from .laying.construct import Strategy

NO_TIME = "no time was left to try it; give the search more seconds"
NO_ROOM = "no room was found for it beside the others"
TOO_MUCH = "all the pieces together are larger than the metal offered"
TOO_LARGE = "larger than any metal offered: it fits on none, even alone"
NO_TURN = "on none of the metal offered may it lie at any turn"
NOT_FOUND = "no place was found for it"
NO_METAL = "there is no metal to place it on"


@dataclass(frozen=True)
class Candidate:
    """A judged plan and how it was made."""

    placements: tuple[Placement, ...]
    left: tuple[int, ...]  # indices of the copies that are not placed
    measures: Measures
    offcuts: tuple[Offcut, ...]
    strategy: Strategy
    form: Form
    laid: tuple[Placement, ...]  # the placements of the form's own pieces

    def key(self, job: Job) -> tuple[float, float]:
        """The smaller, the better: everything placed comes first, then money or length."""
        figure = self.measures.strip_length_mm if job.goal == "strip" else self.measures.cost
        return float(len(self.left)), round(figure, 9)
