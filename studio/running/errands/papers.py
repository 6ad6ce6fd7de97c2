"""Errands for paper: the print's view draws it up here, and a process of its own makes the PDF."""

from __future__ import annotations

import os
from typing import Any

from django.utils.translation import gettext

from classroom.papers import pdf_child
from classroom.papers.printing import PANGO_IS_MISSING, PaperIsMissing
from classroom.papers.requests import AskedPaper, drawn_up
from classroom.refusals import Refused
from studio.core.confining import Ended, Stopped, confined
from studio.models import Errand
from studio.running.closing import ENDING

from .files import keep_result
from .keeping import Deed

SECONDS = 60  # processor time; the longest of a class of thirty takes some ten
MEMORY_BYTES = 2_000_000_000  # address space, of which far less is ever used
_FONTS = (
    # where fonts and the libraries that draw them may be named (macOS and Windows need theirs)
    "HOME",
    "XDG_CACHE_HOME",
    "XDG_DATA_HOME",
    "XDG_DATA_DIRS",
    "FONTCONFIG_FILE",
    "FONTCONFIG_PATH",
    "DYLD_LIBRARY_PATH",
    "DYLD_FALLBACK_LIBRARY_PATH",
    "WEASYPRINT_DLL_DIRECTORIES",
    "USERPROFILE",
    "LOCALAPPDATA",
)


def make(errand: Errand) -> Deed:
    """The result is the PDF."""
    try:
        html, paper = drawn_up(AskedPaper.from_json(errand.asked["paper"]), errand.owner)
        if ENDING.is_set():
            raise Ended  # the next worker does it, as with what is cut short
        pdf = pdf_apart(html, paper)
    except PaperIsMissing as missing:
        raise Refused(str(missing)) from missing

    def deed() -> dict[str, Any]:
        keep_result(errand, pdf)
        return {"pdf": True}

    return deed


def pdf_apart(html: str, paper: str) -> bytes:
    """The PDF, made in a process whose time and memory are bounded and which may die.

    Raises Refused, in words, when it comes to no end, and PaperIsMissing without Pango.
    """
    known = {name: os.environ[name] for name in _FONTS if name in os.environ}
    try:
        pdf = confined(
            pdf_child.__name__,
            pdf_child.packed(html, paper),
            seconds=SECONDS,
            memory_bytes=MEMORY_BYTES,
            environment=known,
        )
    except Stopped as stopped:
        raise Refused(
            gettext(
                "Making this PDF took too long or too much memory and was stopped. Print it from "
                "the browser instead."
            )
        ) from stopped
    if pdf == pdf_child.NO_PANGO:
        raise PaperIsMissing(PANGO_IS_MISSING)
    return pdf
