"""A file that came with a form goes back to the form when something is to be mended."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from classroom.files.full_disk import is_full
from classroom.files.waiting_files import let_go, set_aside
from classroom.models import WaitingFile
from studio.models import Errand

Deed = Callable[[], dict[str, Any]]
"""What an errand changes, and its outcome: done in one transaction with the errand's end."""
FROM_FORMS = (Errand.Kind.PATTERN, Errand.Kind.METAL, Errand.Kind.OUTLINE)


def turned_down(errand: Errand, why: str, on: str = "", **more: Any) -> Deed:
    """`on` names the form's field; the file is kept for the form, so that it is chosen once."""
    return lambda: {"refused": why, "on": on, **more, "kept": keep_for_the_form(errand)}


def keep_for_the_form(errand: Errand) -> str:
    """The token under which the form finds the file again, "" where there is none."""
    if errand.kind not in FROM_FORMS:
        return ""
    earlier = kept_earlier(errand)
    if earlier is not None:
        return earlier.token
    try:
        data = errand.content()
    except FileNotFoundError:
        return ""
    try:
        return set_aside(errand.owner, errand.about, data, file_name=errand.title).token
    except OSError as error:
        if is_full(error):
            return ""  # the words about the disk matter more than the file
        raise


def kept_earlier(errand: Errand) -> WaitingFile | None:
    """The waiting file that the form named instead of a file of its own."""
    token = errand.asked.get("kept") or ""
    return WaitingFile.objects.filter(owner=errand.owner, about=errand.about, token=token).first()


def let_go_of_kept(errand: Errand) -> None:
    """The file was read: what the form had kept is over, used (`kept`) or not (`over`)."""
    tokens = {errand.asked.get("kept") or "", errand.asked.get("over") or ""} - {""}
    for one in WaitingFile.objects.filter(owner=errand.owner, token__in=tokens):
        let_go(one)
