"""Addresses: waste and cost, and the records of students."""

from django.urls import URLPattern, path

from studio.views.review import pages as review
from studio.views.review import student_record

urlpatterns: list[URLPattern] = [
    path("review/", review.review, name="review"),
    path("review/course/<int:course_pk>/", review.course_review, name="course_review"),
    path("review/course/<int:course_pk>/file/", review.review_csv, name="review_csv"),
    path("review/course/<int:course_pk>/workbook/", review.review_xlsx, name="review_xlsx"),
    path("review/brief/<int:brief_pk>/", review.brief_review, name="brief_review"),
    path("review/student/<int:seat_pk>/", review.student_review, name="student_review"),
    path("me/statement/", review.statement, name="statement"),
    path("seats/<int:seat_pk>/record/", student_record.student_record, name="student_record"),
    path(
        "seats/<int:seat_pk>/record/csv/",
        student_record.student_record_csv,
        name="student_record_csv",
    ),
]
