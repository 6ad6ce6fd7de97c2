"""An old offcut gets in by a photo: upload it, look at the outline, put it on the rack."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from functools import partial
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from classroom.figures.units import format_area, format_length, format_mass, format_share
from classroom.models import subject_of
from classroom.permissions import Action, Visit, requires
from classroom.refusals import Refused
from inventory.models import Metal, SentForm, StockPiece
from inventory.rack.stock import receive_offcut
from inventory.rack.weighing import WeightCheck
from inventory.spending.money import CENT
from studio.core.reading import Upload
from studio.core.reading.frame import FRAMES
from studio.core.reading.metal import require_photo
from studio.forms.rack.metal_photo import MOST_MB, TRACED, KeepPhotoForm, MetalPhotoForm
from studio.models import Errand
from studio.running.errands.metal_pieces import photographed
from studio.running.errands.starting import NewErrand
from studio.steps.rack.photographed_metal import Photographed, sealed, unsealed, upright
from studio.views.errands.brought_file import kept_by, kept_in, kept_tokens
from studio.views.errands.landing import brought, handed_on, seen, typed_for, typed_in
from studio.views.patterns.findings import numbered

from .metal_picture import metal_svg


@requires(Action.MANAGE_RACK)
@require_http_methods(["GET", "POST"])
def offcut_from_photo(request: Visit) -> HttpResponse:
    """Two forms at one address: the photo, and what was read of it (sealed) to be kept."""
    if request.method == "POST" and "read" in request.POST:
        try:
            one = unsealed(request.POST["read"], acting=request.user)
        except Refused as refusal:
            messages.error(request, str(refusal))
            return redirect("offcut_from_photo")
        return _keep(request, one)
    school = request.user.school
    sent = request.method == "POST"
    return brought(
        request,
        Errand.Kind.METAL,
        school,
        form=lambda: MetalPhotoForm(
            request.POST if sent else None,
            request.FILES if sent else None,
            acting=request.user,
            kept=kept_in(request, school),
        ),
        bring=partial(_bring, request),
        page=partial(_page, request),
        came_of_it=partial(_came_of_it, request),
    )


def _page(request: Visit, form: MetalPhotoForm) -> HttpResponse:
    return render(
        request,
        "inventory/rack/offcut_from_photo.html",
        {
            "form": form,
            "most_mb_text": f"{MOST_MB} MB",
            "frame": FRAMES[request.user.school.paper],
            "crumbs": _crumbs(),
        },
    )


def _bring(request: Visit, form: MetalPhotoForm) -> Errand | None:
    wanted = partial(_wanted, request, form)
    return handed_on(request, request.user.school, form, require_photo, wanted)


def _wanted(request: Visit, form: MetalPhotoForm, upload: Upload) -> NewErrand:
    typed = form.cleaned_data
    measured = typed["measured"]
    asked = {
        "metal": typed["metal"].pk,
        "measured": None if measured is None else str(measured),
        "traced": typed["way"] == TRACED,
        "typed": typed_for(request, form.names()),
        **kept_tokens(form),
    }
    back, about = reverse("offcut_from_photo"), subject_of(request.user.school)
    return NewErrand(Errand.Kind.METAL, upload.name, back, about, asked, upload.data)


def _came_of_it(request: Visit, errand: Errand) -> HttpResponse:
    """What was read, to be compared with the metal; else the form again, its file kept."""
    if "read" in seen(errand).outcome:
        try:
            one = photographed(errand)
        except (FileNotFoundError, Refused):
            messages.warning(request, "What was read is no longer kept. Upload the photo again.")
            return redirect("offcut_from_photo")
        form = KeepPhotoForm(photo=one.photo, acting=request.user, initial=_worth(one.metal, one))
        return _shown(request, one, form, None)
    kept = kept_by(request, request.user.school, errand)
    again = MetalPhotoForm(typed_in(errand), acting=request.user, kept=kept)
    return _page(request, again.again(errand.trouble, errand.outcome.get("on", "")))


def _keep(request: Visit, one: Photographed) -> HttpResponse:
    form = KeepPhotoForm(request.POST, photo=one.photo, acting=request.user)
    if not form.is_valid():
        return _shown(request, one, form, None)
    data = form.cleaned_data
    check = None
    try:
        outline = one.outline(form.chosen())
        if data["weight"]:
            check = one.weight_check(data["weight"], outline)
            if not check.agrees and not data["heavy_ok"]:
                return _shown(request, one, form, check)
        weighed = f", weighed {data['weight']} g" if data["weight"] else ""
        with transaction.atomic():
            if not SentForm.is_first(data["once"], request.user):
                messages.info(request, "That offcut was entered already, once.")
                return redirect("rack")
            piece = receive_offcut(
                request.user.school,
                one.metal,
                outline,
                acting=request.user,
                cost=data["cost"],
                reason=f"{data['reason']}{weighed}",
                clean_edges=data["clean_edges"],
                measured_mm=one.measured_mm,
                place=data["place"],
            )
    except Refused as refusal:
        form.add_error(None, str(refusal))
        return _shown(request, one, form, check)
    _tell(request, piece)
    return redirect("stock_piece", piece.pk)


def _tell(request: Visit, piece: StockPiece) -> None:
    units = request.user.school.units
    size = f"{format_length(piece.width_mm, units)} by {format_length(piece.height_mm, units)}"
    messages.success(
        request,
        f"{piece.code} is on the rack, {size}. Print its label, or write the code on the metal.",
    )


def _shown(
    request: Visit, one: Photographed, form: KeepPhotoForm, check: WeightCheck | None
) -> HttpResponse:
    units, school = request.user.school.units, request.user.school
    photo, windows = one.photo, form.chosen()
    x0, y0, x1, y1 = upright(photo.outer).bounds
    area = photo.outer.area - sum(
        opening.outline.area
        for number, opening in enumerate(photo.openings, start=1)
        if number in windows
    )
    density = float(one.metal.alloy.density_g_cm3)
    if check is None:
        form.fields.pop("heavy_ok")
    return render(
        request,
        "inventory/rack/offcut_seen.html",
        {
            "form": form,
            "one": one,
            "read": sealed(one, acting=request.user),
            "picture": metal_svg(
                photo,
                windows,
                title="The photo laid flat, with the outline that was read drawn over it",
            ),
            "size": f"{format_length(x1 - x0, units)} × {format_length(y1 - y0, units)}",
            "area": format_area(area, units),
            "weight": format_mass(area * float(one.thickness_mm) * density / 1000, units),
            "findings": numbered(photo.findings, school),
            "check": _in_words(check, units) if check is not None else "",
            "crumbs": _crumbs(),
        },
    )


def _in_words(check: WeightCheck, units: str) -> str:
    side = "more" if check.off > 0 else "less"
    return (
        f"The scale says {format_mass(check.weighed_g, units)}; by its size and thickness the "
        f"piece should weigh {format_mass(check.expected_g, units)}, so it weighs "
        f"{format_share(abs(check.off))} {side}. "
        f"About {check.thickness_in(units)} thick would explain it. "
        "Measure with a caliper, look whether every window is ticked, and whether it is this "
        "metal. If all is right, tick “Put it on the rack all the same”."
    )


def _worth(metal: Metal, one: Photographed) -> dict[str, Any]:
    """At the metal's last price, so much metal costs so much; nothing where there is no price."""
    price = metal.prices.in_force().first()
    if price is None:
        return {}
    area = Decimal(repr(float(one.photo.outer.area)))
    return {"cost": (price.per_mm2 * area).quantize(CENT, ROUND_HALF_UP)}


def _crumbs() -> list[dict[str, str]]:
    return [
        {"label": "Rack", "url": reverse("rack")},
        {"label": "Offcut", "url": reverse("offcut_new")},
        {"label": "Photograph it"},
    ]
