"""Addresses of rack pages that need reader, search or plans, which the inventory cannot see."""

from django.urls import URLPattern, path

from studio.views.rack import fitting, metal_photos, offcuts, order_list

urlpatterns: list[URLPattern] = [
    path("rack/fits/", fitting.rack_fits, name="rack_fits"),
    path("rack/order-list/", order_list.rack_order, name="rack_order"),
    path("rack/order-list/print/", order_list.rack_order_print, name="rack_order_print"),
    path("rack/order-list/csv/", order_list.rack_order_csv, name="rack_order_csv"),
    path("rack/offcut/svg/", offcuts.offcut_from_svg, name="offcut_from_svg"),
    path("rack/offcut/photo/", metal_photos.offcut_from_photo, name="offcut_from_photo"),
]
