"""The file of a form: just chosen, or kept from the try before while something else is mended."""

from __future__ import annotations

from collections.abc import Callable

from django.db.models import Model

from classroom.files.waiting_files import content_of, set_aside, waiting_file
from classroom.models import WaitingFile
from classroom.permissions import Visit
from studio.core.reading import PatternError
from studio.forms.kept_file import KeptFileForm
from studio.models import Errand
from studio.steps.patterns.read_in import plain_name


def kept_in(request: Visit, thing: Model) -> WaitingFile | None:
    return waiting_file(request.user, thing, request.POST.get("kept", ""))


def kept_by(request: Visit, thing: Model, errand: Errand) -> WaitingFile | None:
    """What an errand that came to nothing has left for the form."""
    return waiting_file(request.user, thing, str(errand.outcome.get("kept", "")))


def file_of(
    form: KeptFileForm, most_bytes: int, look: Callable[[bytes, str], object]
) -> tuple[bytes, str] | None:
    """Content and plain name; None when there is none, which stands in the form's errors.

    `look` raises PatternError for a file that nobody could read, by its first bytes: that is said
    at once, whatever else is to be mended, and such a file is not kept.
    """
    found = _sent_or_kept(form, most_bytes)
    if found is None:
        return None
    try:
        look(*found)
    except PatternError as error:
        form.kept = None
        form.add_error("file", str(error))
        return None
    return found


def _sent_or_kept(form: KeptFileForm, most_bytes: int) -> tuple[bytes, str] | None:
    if "file" in form.errors:
        return None
    chosen = form.cleaned_data.get("file")
    if chosen is not None:
        return chosen.read(most_bytes + 1), plain_name(chosen.name or "")
    if form.kept is None:
        return None
    try:
        return content_of(form.kept), form.kept.file_name
    except FileNotFoundError:
        form.kept = None
        form.add_error("file", "This file is no longer kept. Choose it again.")
        return None


def keep(request: Visit, thing: Model, form: KeptFileForm, data: bytes, name: str) -> None:
    """For the next try, so that nobody has to choose it again."""
    if form.cleaned_data.get("file") is not None:  # else it is kept already
        form.kept = set_aside(request.user, thing, data, file_name=name)


def kept_tokens(form: KeptFileForm) -> dict[str, str]:
    """For the errand: the kept file that is read (`kept`), or that is over all the same."""
    if form.kept is None:
        return {}
    used = form.cleaned_data.get("file") is None
    return {"kept" if used else "over": form.kept.token}
