"""The printed capture frame, empty, for anybody who photographs drawings."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from classroom.papers.printing import printed
from classroom.permissions import Action, Visit, requires
from studio.core.reading.frame import FRAMES
from studio.prints.paper import capture_frame
from studio.prints.paper.sizes import Printer

from .printer_choice import correction_for, remembered


@requires(Action.PRINT)
@require_GET
def capture_frame_print(request: Visit) -> HttpResponse:
    """For the school's paper, or the one that `?frame=` names."""
    correction = correction_for(request)
    printer = correction["printer"]
    asked = request.GET.get("frame", "")
    frame = FRAMES.get(asked) or FRAMES[request.user.school.paper]
    context = capture_frame.capture_frame_context(frame, printer)
    if not context["fits"]:
        correction["printer_complaint"] = (
            "Stretched for this printer, the frame does not fit on the paper any more."
        )
        printer = correction["printer"] = Printer()
        context = capture_frame.capture_frame_context(frame, printer)
    answer = printed(
        request,
        capture_frame.TEMPLATE,
        lambda: context | correction | {"keep_query": [("frame", frame.name)]},
        name=f"capture-frame-{frame.name}",
        short=True,
    )
    return remembered(request, answer)
