"""Addresses: metal is parted into blanks."""

from django.urls import path

from studio.views.sharing import parting

urlpatterns = [
    path("part/<int:pk>/", parting.part_metal, name="part_metal"),
    path("part/<int:pk>/start/", parting.part_start, name="part_start"),
    path("plans/<int:plan_pk>/parting-labels/", parting.parting_labels, name="parting_labels"),
]
