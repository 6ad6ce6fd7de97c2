"""The printed capture frame, empty, for anybody who photographs drawings."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from classroom.permissions import Action, Visit, requires
from classroom.printing import printed
from studio.core.frame import FRAMES
from studio.prints import capture_frame
from studio.prints.paper import Printer, printer_from


@requires(Action.PRINT)
@require_GET
def capture_frame_print(request: Visit) -> HttpResponse:
    """For the school's paper, or the one that `?frame=` names."""
    printer, complaint = printer_from(request.GET)
    asked = request.GET.get("frame", "")
    frame = FRAMES.get(asked) or FRAMES[request.user.school.paper]
    context = capture_frame.capture_frame_context(frame, printer)
    if not context["fits"]:
        complaint = "Stretched for this printer, the frame does not fit on the paper any more."
        printer = Printer()
        context = capture_frame.capture_frame_context(frame, printer)
    return printed(
        request,
        capture_frame.TEMPLATE,
        context
        | {
            "printer": printer,
            "printer_complaint": complaint,
            "across": request.GET.get("across", "")[:12],
            "up": request.GET.get("up", "")[:12],
            "keep_query": [("frame", frame.name)],
        },
        name=f"capture-frame-{frame.name}",
    )
