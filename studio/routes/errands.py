"""Addresses: what a person waits for, as long as a worker is at it."""

from django.urls import path

from studio.views.errands import pages as errands

urlpatterns = [
    path("waiting/<slug:token>/", errands.errand_page, name="errand"),
    path("waiting/<slug:token>/call-off/", errands.errand_call_off, name="errand_call_off"),
    path("waiting/<slug:token>/paper/", errands.errand_paper, name="errand_paper"),
]
