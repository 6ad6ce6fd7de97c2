"""Addresses: briefs."""

from django.urls import path

from studio.views.briefs import pages as briefs
from studio.views.briefs import terms

urlpatterns = [
    path("briefs/", briefs.brief_list, name="briefs"),
    path("briefs/new/<int:course_pk>/", briefs.brief_new, name="brief_new"),
    path("courses/<int:course_pk>/copy-briefs/", terms.briefs_copy, name="briefs_copy"),
    path("courses/<int:course_pk>/archive/", terms.course_archive, name="course_archive"),
    path("briefs/<int:pk>/", briefs.brief_page, name="brief"),
    path("briefs/<int:pk>/edit/", briefs.brief_edit, name="brief_edit"),
    path("briefs/<int:pk>/close/", briefs.brief_close, name="brief_close"),
    path("briefs/<int:pk>/open/", briefs.brief_open, name="brief_open"),
]
