"""Addresses: the layout table."""

from django.urls import path

from studio.views.layouts import changing as table
from studio.views.layouts import pages

urlpatterns = [
    path("layouts/<int:pk>/", pages.layout, name="layout"),
    path("layouts/<int:pk>/change/", table.layout_change, name="layout_change"),
    path("layouts/<int:pk>/undo/", table.layout_undo, name="layout_undo"),
    path("layouts/<int:pk>/redo/", table.layout_redo, name="layout_redo"),
    path("layouts/<int:pk>/pin/", table.layout_pin, name="layout_pin"),
    path("layouts/<int:pk>/place/", table.layout_place, name="layout_place"),
    path("layouts/<int:pk>/cuts/", table.layout_cuts, name="layout_cuts"),
    path("layouts/<int:pk>/stock/", table.layout_stock, name="layout_stock"),
    path("layouts/<int:pk>/tries/", table.layout_tries, name="layout_tries"),
    path("projects/<int:pk>/layout/", pages.project_layout, name="project_layout"),
    path("plans/<int:pk>/own-layout/", pages.own_blank_layout, name="own_blank_layout"),
    path("plans/<int:pk>/layout/", pages.plan_layout, name="plan_layout"),
]
