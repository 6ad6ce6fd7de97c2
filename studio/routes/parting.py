"""Addresses: metal is parted into blanks."""

from django.urls import path

from studio.views.sharing import parting, relaying

urlpatterns = [
    path("part/<int:pk>/", parting.part_metal, name="part_metal"),
    path("part/<int:pk>/start/", parting.part_start, name="part_start"),
    path("part/entries/<int:pk>/correct/", parting.part_correct, name="part_correct"),
    path("plans/<int:plan_pk>/relay/", relaying.blank_relay, name="blank_relay"),
    path("plans/<int:plan_pk>/parting-labels/", parting.parting_labels, name="parting_labels"),
]
