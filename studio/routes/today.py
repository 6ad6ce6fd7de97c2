"""Addresses: the first page, and the page of parts for those who write templates."""

from django.urls import path

from studio.views.house.health import health_page
from studio.views.house.style_sheet import style_sheet
from studio.views.today.first_page import first_page

urlpatterns = [
    path("", first_page, name="first_page"),
    path("health/", health_page, name="health"),
    path("house/parts/", style_sheet, name="style_sheet"),  # not found outside DEBUG
]
