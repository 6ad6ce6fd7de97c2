"""Addresses of rack pages that need the engine or the plans, which the inventory cannot see."""

from django.urls import URLPattern, path

from studio.views import fitting

urlpatterns: list[URLPattern] = [
    path("rack/fits/", fitting.rack_fits, name="rack_fits"),
]
