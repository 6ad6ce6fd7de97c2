"""Addresses: cut plans."""

from django.urls import path

from studio.views import drawing_files, plans

urlpatterns = [
    path("plans/", plans.plans, name="plans"),
    path("courses/<int:course_pk>/plans/new/", plans.plan_new, name="plan_new"),
    path("plans/<int:pk>/", plans.plan, name="plan"),
    path("plans/<int:pk>/plan.<slug:kind>", drawing_files.plan_file, name="plan_file"),
    path("plans/<int:pk>/progress/", plans.plan_progress, name="plan_progress"),
    path("plans/<int:pk>/stop/", plans.plan_stop, name="plan_stop"),
    path("plans/<int:pk>/again/", plans.plan_again, name="plan_again"),
    path("plans/<int:pk>/approve/", plans.plan_approve, name="plan_approve"),
    path("plans/<int:pk>/drop/", plans.plan_drop, name="plan_drop"),
    path("plans/<int:pk>/issue/", plans.plan_issue, name="plan_issue"),
]
