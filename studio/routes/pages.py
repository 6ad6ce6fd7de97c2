"""Addresses: the first page, and the page of parts for those who write templates."""

from django.urls import path

from studio.views.health import health_page
from studio.views.pages import first_page
from studio.views.style_sheet import style_sheet

urlpatterns = [
    path("", first_page, name="first_page"),
    path("health/", health_page, name="health"),
    path("house/parts/", style_sheet, name="style_sheet"),  # not found outside DEBUG
]
