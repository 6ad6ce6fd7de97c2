"""`/health/`: for monitors, without sign-in; says nothing of the school."""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from classroom.permissions import open_to_all
from studio.running.health import OK, health


@open_to_all
@never_cache
@require_safe
def health_page(request: HttpRequest) -> JsonResponse:
    found = health()
    well = all(word == OK for word in found.values())
    return JsonResponse(found, status=200 if well else 503)
