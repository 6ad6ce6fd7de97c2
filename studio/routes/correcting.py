"""Addresses: a student corrects the lines of a pattern on screen."""

from django.urls import path

from studio.views.patterns import correcting

urlpatterns = [
    path("patterns/<int:pk>/correct/", correcting.pattern_correct, name="pattern_correct"),
    path("patterns/<int:pk>/correct/change/", correcting.pattern_change, name="pattern_change"),
    path("patterns/<int:pk>/correct/undo/", correcting.pattern_undo, name="pattern_undo"),
    path("patterns/<int:pk>/paper.jpg", correcting.pattern_paper, name="pattern_paper"),
]
