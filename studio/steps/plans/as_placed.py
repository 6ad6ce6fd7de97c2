"""Is the metal of a plan still what its pieces were placed on?"""

from __future__ import annotations

from typing import Any

from classroom.refusals import Refused
from studio.models import CutPlan
from studio.queries.plans import stock_touched_by

from .asking import JOB_VERSION, as_metal
from .quote import costs_as_priced


def still_as_placed_on(plan: CutPlan, *, mend: str = "Place them again.") -> None:
    """Refuse when a stock piece's outline, edges or cost were corrected since the plan was made.

    Asked once the pieces are reserved or handed out: from then on their records stand. Plans of
    earlier rules keep to theirs. `mend` says what to do then.
    """
    if plan.job["version"] < JOB_VERSION:
        return
    asked = {metal["id"]: metal for metal in plan.job["metal"]}
    costs = costs_as_priced(plan)
    for piece in stock_touched_by(plan):
        metal = asked[piece.code]
        # As text: `to_wkt` wrote it then and writes it now, so an outline that nobody touched is
        # the same to the last sign, and any other one was corrected.
        then = (_edged(metal), costs.get(piece.code))
        if then != (_edged(as_metal(piece, 0.0)), piece.cost):
            raise Refused(
                f"The record of {piece.code} has been corrected since the pieces were placed on "
                f"it. {mend}"
            )


def _edged(metal: dict[str, Any]) -> tuple[object, ...]:
    """What a job says of the outline and the edges of a stock piece."""
    return metal["outline"], metal["clean_edges"], metal.get("rough_edges")
