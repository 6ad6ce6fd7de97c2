"""Addresses: the first page."""

from django.urls import path

from studio.views.pages import first_page

urlpatterns = [path("", first_page, name="first_page")]
