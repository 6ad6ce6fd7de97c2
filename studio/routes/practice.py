"""Addresses: practising how to lay out."""

from django.urls import path

from studio.views.practice import pages, prints, table

urlpatterns = [
    path("practice/", pages.practice, name="practice"),
    path("practice/<slug:sheet>/", table.practice_sheet, name="practice_sheet"),
    path("practice/<slug:sheet>/change/", table.practice_change, name="practice_change"),
    path("practice/<slug:sheet>/undo/", table.practice_undo, name="practice_undo"),
    path("practice/<slug:sheet>/redo/", table.practice_redo, name="practice_redo"),
    path("practice/<slug:sheet>/again/", table.practice_again, name="practice_again"),
    path("practice/<slug:sheet>/place/", table.practice_place, name="practice_place"),
    path("practice/<slug:sheet>/known/", table.practice_known, name="practice_known"),
    path("print/practice/<slug:sheet>/", prints.practice_print, name="practice_print"),
    path(
        "print/practice/<slug:sheet>/answer/",
        prints.practice_answer_print,
        name="practice_answer_print",
    ),
]
