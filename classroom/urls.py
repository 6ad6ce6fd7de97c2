"""Addresses of the classroom pages."""

from django.urls import path

from .views import account, cards, class_list, courses, permits, school, seats, sign_in, topics

urlpatterns = [
    path("first-run/", sign_in.first_run, name="first_run"),
    path("sign-in/", sign_in.sign_in, name="sign_in"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
    path("me/", account.own_account, name="own_account"),
    path("school/", school.school_settings, name="school_settings"),
    path("school/teachers/new/", school.teacher_new, name="teacher_new"),
    path("school/teachers/<int:pk>/card/", school.teacher_card, name="teacher_card"),
    path("school/teachers/<int:pk>/close/", school.teacher_close, name="teacher_close"),
    path("school/teachers/<int:pk>/open/", school.teacher_open, name="teacher_open"),
    path("school/teachers/<int:pk>/keeper/", school.teacher_keeper, name="teacher_keeper"),
    path("courses/", courses.course_list, name="course_list"),
    path("courses/new/", courses.course_new, name="course_new"),
    path("courses/<int:pk>/", courses.course, name="course"),
    path("courses/<int:pk>/edit/", courses.course_edit, name="course_edit"),
    path("courses/<int:pk>/close/", courses.course_close, name="course_close"),
    path("courses/<int:pk>/reopen/", courses.course_reopen, name="course_reopen"),
    path("courses/<int:pk>/students/", class_list.class_list, name="class_list"),
    path("courses/<int:pk>/students/add/", class_list.class_list_add, name="class_list_add"),
    path("courses/<int:pk>/cards/", cards.sign_in_cards, name="sign_in_cards"),
    path("courses/<int:pk>/permits/", permits.permits, name="permits"),
    path("seats/<int:pk>/", seats.seat, name="seat"),
    path("seats/<int:pk>/leave/", seats.seat_leave, name="seat_leave"),
    path("seats/<int:pk>/return/", seats.seat_return, name="seat_return"),
    path("seats/<int:pk>/move/", seats.seat_move, name="seat_move"),
    path("safety/", topics.topics, name="topics"),
    path("safety/new/", topics.topic_new, name="topic_new"),
    path("safety/<int:pk>/", topics.topic, name="topic"),
    path("safety/<int:pk>/edit/", topics.topic_edit, name="topic_edit"),
    path("safety/<int:pk>/retire/", topics.topic_retire, name="topic_retire"),
    path("safety/<int:pk>/restore/", topics.topic_restore, name="topic_restore"),
    path("safety/permits/give/", permits.permit_give, name="permit_give"),
    path("safety/permits/<int:pk>/withdraw/", permits.permit_withdraw, name="permit_withdraw"),
]
