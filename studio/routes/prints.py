"""Addresses: prints, each as a view in the browser and (`?as=pdf`) as PDF."""

from django.urls import path

from studio.views.prints import capture_frame, printers
from studio.views.prints import pages as prints
from studio.views.review import pages as review

urlpatterns = [
    path("capture-frame/", capture_frame.capture_frame_print, name="capture_frame"),
    path("printers/", printers.printers, name="printers"),
    path("printers/<int:pk>/gone/", printers.printer_gone, name="printer_gone"),
    path("printer-check/", printers.printer_check, name="printer_check"),
    path("pattern/<int:pattern_pk>/", prints.pattern_sheet_print, name="pattern_sheet"),
    path("placement/<int:plan_pk>/", prints.placement_sheet_print, name="placement_sheet"),
    path("plan/<int:plan_pk>/", prints.cut_plan_print, name="cut_plan_print"),
    path(
        "preparation/<int:project_pk>/",
        prints.preparation_checklist,
        name="preparation_checklist",
    ),
    path(
        "course/<int:course_pk>/preparation/",
        prints.class_preparation_checklist,
        name="class_preparation_checklist",
    ),
    path("project/<int:project_pk>/safety/", prints.safety_checklist, name="safety_checklist"),
    path(
        "course/<int:course_pk>/safety/",
        prints.class_safety_checklist,
        name="class_safety_checklist",
    ),
    path("bag/<int:project_pk>/", prints.bag_label, name="bag_label"),
    path("course/<int:course_pk>/bags/", prints.class_bag_labels, name="class_bag_labels"),
    path("course/<int:course_pk>/review/", review.review_print, name="review_print"),
]
