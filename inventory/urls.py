"""Addresses of the inventory pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
