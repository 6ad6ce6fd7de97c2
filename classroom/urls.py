"""Addresses of the classroom pages."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
