"""The page on which a teacher takes the metal of a plan back, and what its form says."""

from __future__ import annotations

from django.urls import reverse

from studio.models import CutPlan


def url_of(plan: CutPlan) -> str:
    return reverse("plan_return", args=[plan.pk])


def filled_in(**more: str) -> dict[str, str]:
    return {"given_up": "", "fate_0": "rack", "scrap_mass_g": "2.4"} | more
