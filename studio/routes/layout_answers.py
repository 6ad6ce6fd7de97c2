"""Addresses: what a teacher does with a layout, and renewing one."""

from django.urls import path

from studio.views.layouts import answers

urlpatterns = [
    path("layouts/<int:pk>/use/", answers.layout_use, name="layout_use"),
    path("layouts/<int:pk>/relay/", answers.layout_relay, name="layout_relay"),
    path("layouts/<int:pk>/nudge/", answers.layout_nudge, name="layout_nudge"),
    path("layouts/<int:pk>/renew/", answers.layout_renew, name="layout_renew"),
]
