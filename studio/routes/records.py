"""Addresses: records of students."""

from django.urls import path

from studio.views.review import student_record

urlpatterns = [
    path("seats/<int:seat_pk>/record/", student_record.student_record, name="student_record"),
    path(
        "seats/<int:seat_pk>/record/csv/",
        student_record.student_record_csv,
        name="student_record_csv",
    ),
]
