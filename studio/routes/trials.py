"""Addresses: what the server lays by itself, or when somebody at a layout asks it."""

from django.urls import path

from studio.views.layouts import compare
from studio.views.trials import panel

urlpatterns = [
    path("patterns/<int:pk>/trial/", panel.trial_panel, name="trial_panel"),
    path("layouts/<int:pk>/server/", compare.layout_server, name="layout_server"),
    path("layouts/<int:pk>/compare/", compare.layout_compare, name="layout_compare"),
]
