"""Addresses: offcuts whose outline is uploaded."""

from django.urls import URLPattern, path

from studio.views import offcuts

urlpatterns: list[URLPattern] = [
    path("rack/offcut/svg/", offcuts.offcut_from_svg, name="offcut_from_svg"),
]
