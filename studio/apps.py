"""The studio's place in the house, and the rules it gives to the apps below."""

from __future__ import annotations

from typing import Any

from django.apps import AppConfig
from django.http import HttpResponse


class StudioConfig(AppConfig):
    name = "studio"
    verbose_name = "Studio"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from classroom.erasing import keepings
        from classroom.papers.printing import PaperWays, use_ways
        from classroom.people.courses import speaks_against_closing

        from .erasing import kept
        from .telling.records.open_work import metal_that_is_out

        if metal_that_is_out not in speaks_against_closing:
            speaks_against_closing.append(metal_that_is_out)
        keepings["studio"] = kept()
        use_ways(PaperWays(queued=_queued_paper, apart=_paper_apart))


def _queued_paper(request: Any, name: str) -> HttpResponse:
    from .views.errands.pages import queued_paper  # only a web process needs the pages

    return queued_paper(request, name)


def _paper_apart(html: str, paper: str) -> bytes:
    from .running.errands.papers import pdf_apart

    return pdf_apart(html, paper)
