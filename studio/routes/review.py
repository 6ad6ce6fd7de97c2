"""Addresses: waste and cost."""

from django.urls import path

from studio.views import review

urlpatterns = [
    path("review/", review.review, name="review"),
    path("courses/<int:course_pk>/review/", review.course_review, name="course_review"),
    path("courses/<int:course_pk>/review/file/", review.review_csv, name="review_csv"),
    path("briefs/<int:brief_pk>/review/", review.brief_review, name="brief_review"),
    path("review/student/<int:seat_pk>/", review.student_review, name="student_review"),
    path("me/statement/", review.statement, name="statement"),
]
