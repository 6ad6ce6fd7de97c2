"""Addresses: cut plans."""

from django.urls import path

from studio.views.plans import adding
from studio.views.plans import pages as plans
from studio.views.plans import rivals as plan_rivals
from studio.views.plans import settings as placing_settings
from studio.views.plans import ways as plan_ways
from studio.views.prints import drawing_files

urlpatterns = [
    path("plans/", plans.plans, name="plans"),
    path("placing/", placing_settings.placing_settings, name="placing_settings"),
    path(
        "courses/<int:course_pk>/placing/",
        placing_settings.course_placing_settings,
        name="course_placing_settings",
    ),
    path("courses/<int:course_pk>/plans/new/", plans.plan_new, name="plan_new"),
    path("plans/<int:pk>/", plans.plan, name="plan"),
    path("plans/<int:pk>/plan.<slug:kind>", drawing_files.plan_file, name="plan_file"),
    path("plans/<int:pk>/progress/", plans.plan_progress, name="plan_progress"),
    path("plans/<int:pk>/stop/", plans.plan_stop, name="plan_stop"),
    path("plans/<int:pk>/again/", plans.plan_again, name="plan_again"),
    path("plans/<int:pk>/beside/", plan_rivals.plan_beside, name="plan_beside"),
    path("plans/<int:pk>/compare/", plan_rivals.plan_compare, name="plan_compare"),
    path("plans/<int:pk>/choose/", plan_rivals.plan_choose, name="plan_choose"),
    path("plans/<int:pk>/ways/", plan_ways.plan_ways, name="plan_ways"),
    path("plans/<int:pk>/way/", plan_ways.plan_way, name="plan_way"),
    path("plans/<int:pk>/way/again/", plan_ways.plan_way_again, name="plan_way_again"),
    path("projects/<int:project_pk>/add/", adding.project_add, name="project_add"),
    path("plans/<int:pk>/approve/", plans.plan_approve, name="plan_approve"),
    path("plans/<int:pk>/drop/", plans.plan_drop, name="plan_drop"),
    path("plans/<int:pk>/issue/", plans.plan_issue, name="plan_issue"),
]
