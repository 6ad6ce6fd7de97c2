"""Address: drawing a line of a pattern more neatly, when the student asks for it."""

from django.urls import path

from studio.views.patterns import mending

urlpatterns = [path("patterns/<int:pk>/mend/", mending.pattern_mend, name="pattern_mend")]
