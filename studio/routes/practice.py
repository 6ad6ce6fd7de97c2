"""Addresses: practising how to lay out."""

from django.urls import path

from studio.views.practice import pages, prints

urlpatterns = [
    path("practice/", pages.practice, name="practice"),
    path("print/practice/<slug:sheet>/", prints.practice_print, name="practice_print"),
    path(
        "print/practice/<slug:sheet>/answer/",
        prints.practice_answer_print,
        name="practice_answer_print",
    ),
]
