"""Addresses: offcuts whose outline is uploaded or photographed."""

from django.urls import URLPattern, path

from studio.views.rack import metal_photos, offcuts

urlpatterns: list[URLPattern] = [
    path("rack/offcut/svg/", offcuts.offcut_from_svg, name="offcut_from_svg"),
    path("rack/offcut/photo/", metal_photos.offcut_from_photo, name="offcut_from_photo"),
]
