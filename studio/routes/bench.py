"""Addresses: bench."""

from django.urls import path

from studio.views.bench import pages as bench
from studio.views.bench import tablet
from studio.views.bench import wording as step_words
from studio.views.rack import give_back

urlpatterns = [
    path("projects/<int:project_pk>/bench/", bench.bench, name="bench"),
    path("steps/<int:pk>/start/", bench.step_start, name="step_start"),
    path("steps/<int:pk>/done/", bench.step_done, name="step_done"),
    path("steps/<int:pk>/check/", bench.step_check, name="step_check"),
    path("steps/<int:pk>/send-back/", bench.step_send_back, name="step_send_back"),
    path("steps/<int:pk>/override/", bench.step_override, name="step_override"),
    path("courses/<int:course_pk>/bench/", bench.class_bench, name="class_bench"),
    path("courses/<int:course_pk>/bench/check/", bench.steps_check, name="steps_check"),
    path("courses/<int:course_pk>/tablet/", tablet.tablet_open, name="tablet_open"),
    path("tablets/<int:pk>/close/", tablet.tablet_close, name="tablet_close"),
    path("tablet/", tablet.tablet, name="tablet"),
    path("tablet/<int:seat_pk>/", tablet.tablet_seat, name="tablet_seat"),
    path("tablet/<int:seat_pk>/sign/", tablet.tablet_sign, name="tablet_sign"),
    path("bench-words/", step_words.step_words, name="step_words"),
    path("bench-words/frame/", step_words.frame_depth, name="frame_depth"),
    path("bench-words/<slug:kind>/", step_words.step_words_edit, name="step_words_edit"),
    path("bench-words/<slug:kind>/first/", step_words.step_words_house, name="step_words_house"),
    path("plans/<int:plan_pk>/return/", give_back.plan_return, name="plan_return"),
    path(
        "plans/<int:plan_pk>/return/scrap/",
        give_back.plan_scrap_correct,
        name="plan_scrap_correct",
    ),
]
