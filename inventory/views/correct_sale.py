"""A sale of scrap that was written down wrong."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from classroom.acting import done, said_on
from classroom.permissions import Action, Visit, requires
from classroom.queries import courses_for
from classroom.refusals import Refused
from inventory.forms.money import CorrectSaleForm
from inventory.models import ScrapSale
from inventory.queries import sale_for
from inventory.rack import scrap
from inventory.spending.ledger import open_budget

from .ways import crumbs


@requires(Action.MANAGE_BUDGET)
@require_http_methods(["GET", "POST"])
def scrap_sale_correct(request: Visit, pk: int) -> HttpResponse:
    """Only who looks after the budget that got the money may take it out again."""
    sale = sale_for(request.user, pk)
    after = sale.corrected_by()
    if after is not None:
        messages.info(request, "That sale was corrected already: this is the one that counts.")
        return redirect("scrap_sale", after.pk)
    _may_take_out(request, sale)
    form = CorrectSaleForm(request.POST or None, acting=request.user, sale=sale)
    if request.method == "POST" and form.is_valid():
        with said_on(form):
            data = form.cleaned_data
            with transaction.atomic():
                made = scrap.correct_sale(
                    sale,
                    data["weight"],
                    data["amount"],
                    acting=request.user,
                    reason=data["reason"],
                    budget=open_budget(data["budget"]) if data["budget"] else None,
                    sold_on=data["sold_on"],
                    buyer=data["buyer"],
                )
                if made:
                    form.keep_answer(made, acting=request.user)
            return done(
                request,
                "The sale is corrected." if made else "The sale stood so already.",
                "scrap_sale",
                made.pk if made else sale.pk,
            )
    address = reverse("scrap_sale", args=[sale.pk])
    return render(
        request,
        "inventory/form_page.html",
        {
            "form": form,
            "title": "Correct a sale of scrap",
            "lead": "The sale stays to be read; a new one takes its place, and box and budget "
            "follow.",
            "button": "Write the correction down",
            "back_url": address,
            "crumbs": crumbs(
                ("Scrap boxes", reverse("scrap_boxes")),
                ("Sales", reverse("scrap_sales")),
                ("Sale", address),
                "Correct",
            ),
        },
    )


def _may_take_out(request: Visit, sale: ScrapSale) -> None:
    if sale.budget is None:
        return
    if not courses_for(request.user).filter(pk=sale.budget.course_id).exists():
        raise Refused(
            f"The money of this sale is in the budget of {sale.budget.course}: a teacher of that "
            "course corrects it."
        )
