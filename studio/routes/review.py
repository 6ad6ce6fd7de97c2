"""Addresses: waste and cost."""

from django.urls import path

from studio.views.review import pages as review

urlpatterns = [
    path("review/", review.review, name="review"),
    path("review/course/<int:course_pk>/", review.course_review, name="course_review"),
    path("review/course/<int:course_pk>/file/", review.review_csv, name="review_csv"),
    path("review/course/<int:course_pk>/workbook/", review.review_xlsx, name="review_xlsx"),
    path("review/brief/<int:brief_pk>/", review.brief_review, name="brief_review"),
    path("review/student/<int:seat_pk>/", review.student_review, name="student_review"),
    path("me/statement/", review.statement, name="statement"),
]
