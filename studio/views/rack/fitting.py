"""Does this pattern fit on a piece of the rack? Asked of the engine, best offcut first."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from classroom.permissions import Action, Visit, requires
from classroom.refusals import Busy, Refused, as_busy
from inventory.rack.picturing import common_scale, thumbnail_svg
from inventory.views.rack import age_of
from studio.forms.rack.fitting import FitForm
from studio.steps.rack.fitting import Answer, where_it_fits

LEAD = (
    "Choose a pattern, or give a rectangle, and see which stock pieces of the rack hold it. "
    "Offcuts come first, the smallest that will do at the top."
)
NO_ROOM = (
    "No free stock piece of this metal has room for all of it together. "
    "A cut plan may still spread several pieces over several stock pieces."
)


@requires(Action.SEE_RACK)
@require_GET
def rack_fits(request: Visit) -> HttpResponse:
    form = FitForm(request.GET or None, acting=request.user)
    answer = busy = None
    if form.is_bound and form.is_valid():
        try:
            answer = where_it_fits(
                form.wanted, form.of_metal, acting=request.user, brief=form.brief
            )
        except Refused as refusal:
            form.add_error(None, str(refusal))
            busy = refusal if isinstance(refusal, Busy) else None
    page = render(
        request,
        "studio/rack/fits.html",
        {
            "form": form,
            "answer": answer,
            "metal": form.of_metal if answer else None,
            "shown": _pictures(answer) if answer else [],
            "lead": LEAD,
            "no_room_words": NO_ROOM,
            "crumbs": [{"label": "Rack", "url": reverse("rack")}, {"label": "Does it fit?"}],
        },
    )
    return as_busy(page, busy) if busy else page


def _pictures(answer: Answer) -> list[dict[str, Any]]:
    """Each stock piece that fits, with the pieces on it, all at one scale."""
    outlines = [fit.stock.polygon for fit in answer.fits]
    scale = common_scale(outlines)
    return [
        {
            "piece": fit.stock,
            "covered": fit.covered,
            "age": age_of(fit.stock),
            "picture": thumbnail_svg(
                outline,
                title=f"Outline of {fit.stock.code} with the pieces as they would lie",
                px_per_mm=scale,
                laid=fit.laid,
            ),
        }
        for fit, outline in zip(answer.fits, outlines, strict=True)
    ]
