"""Addresses: metal in several hands."""

from django.urls import path

from studio.views.sharing import passed_on, stock_steps

urlpatterns = [
    path("passed-on/<int:pk>/", passed_on.passed_on, name="passed_on"),
    path("passed-on/<int:pk>/hand-on/", passed_on.metal_hand_on, name="metal_hand_on"),
    path("passed-on/<int:pk>/turn/", passed_on.turn_move, name="turn_move"),
    path("passed-on/<int:pk>/stand-in/", passed_on.papers_stand_in, name="papers_stand_in"),
    path("passed-on/<int:pk>/leave-out/", passed_on.student_leave_out, name="student_leave_out"),
    path("stock-steps/<int:pk>/start/", stock_steps.stock_step_start, name="stock_step_start"),
    path("stock-steps/<int:pk>/done/", stock_steps.stock_step_done, name="stock_step_done"),
    path("stock-steps/<int:pk>/stuck/", stock_steps.papers_stick, name="papers_stick"),
    path("stock-steps/<int:pk>/check/", stock_steps.stock_step_check, name="stock_step_check"),
    path(
        "stock-steps/<int:pk>/send-back/",
        stock_steps.stock_step_send_back,
        name="stock_step_send_back",
    ),
    path(
        "stock-steps/<int:pk>/override/",
        stock_steps.stock_step_override,
        name="stock_step_override",
    ),
]
