"""Addresses of the classroom pages."""

from django.urls import path

from .views import courses, sign_in

urlpatterns = [
    path("first-run/", sign_in.first_run, name="first_run"),
    path("sign-in/", sign_in.sign_in, name="sign_in"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
    path("courses/", courses.course_list, name="course_list"),
    path("courses/new/", courses.course_new, name="course_new"),
    path("courses/<int:pk>/", courses.course, name="course"),
    path("courses/<int:pk>/edit/", courses.course_edit, name="course_edit"),
    path("courses/<int:pk>/close/", courses.course_close, name="course_close"),
    path("courses/<int:pk>/reopen/", courses.course_reopen, name="course_reopen"),
]
