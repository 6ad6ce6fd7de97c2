"""Addresses: prints, each as a view in the browser and (`?as=pdf`) as PDF."""

from django.urls import path

from studio.views.prints import capture_frame, printers
from studio.views.prints.pages import PRINTS, view_of
from studio.views.review import pages as review

urlpatterns = [
    path("capture-frame/", capture_frame.capture_frame_print, name="capture_frame"),
    path("printers/", printers.printers, name="printers"),
    path("printers/<int:pk>/gone/", printers.printer_gone, name="printer_gone"),
    path("printer-check/", printers.printer_check, name="printer_check"),
    *(path(one.address, view_of(one), name=one.name) for one in PRINTS),
    path("course/<int:course_pk>/review/", review.review_print, name="review_print"),
]
