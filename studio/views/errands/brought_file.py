"""The file of a form: just chosen, or kept from the try before while something else is mended."""

from __future__ import annotations

from collections.abc import Callable

from django.db.models import Model
from django.http import HttpResponse

from classroom.files.waiting_files import content_of, set_aside, waiting_file
from classroom.models import WaitingFile
from classroom.permissions import Visit
from classroom.refusals import as_busy
from studio.core.reading import Asked, PatternError, Upload
from studio.forms.kept_file import KeptFileForm
from studio.models import Errand


def kept_in(request: Visit, thing: Model) -> WaitingFile | None:
    return waiting_file(request.user, thing, request.POST.get("kept", ""))


def kept_by(request: Visit, thing: Model, errand: Errand) -> WaitingFile | None:
    """What an errand that came to nothing has left for the form."""
    return waiting_file(request.user, thing, str(errand.outcome.get("kept", "")))


def file_of(form: KeptFileForm, look: Callable[[Upload], object]) -> Upload | None:
    """The upload; None when there is none, which stands in the form's errors.

    `look` raises PatternError for a file that nobody could read, by its first bytes: that is said
    at once, whatever else is to be mended, and such a file is not kept.
    """
    found = _sent_or_kept(form)
    if found is None:
        return None
    try:
        look(found)
    except PatternError as error:
        form.kept = None
        form.add_error("file", str(error))
        return None
    return found


def _sent_or_kept(form: KeptFileForm) -> Upload | None:
    if "file" in form.errors:
        return None
    chosen = form.cleaned_data.get("file")
    if chosen is not None:
        return Upload.taken(chosen, Asked(chosen.name or ""))
    if form.kept is None:
        return None
    try:
        return Upload(content_of(form.kept), Asked(form.kept.file_name))
    except FileNotFoundError:
        form.kept = None
        form.add_error("file", "This file is no longer kept. Choose it again.")
        return None


def keep(request: Visit, thing: Model, form: KeptFileForm, upload: Upload) -> None:
    """For the next try, so that nobody has to choose it again."""
    if form.cleaned_data.get("file") is not None:  # else it is kept already
        form.kept = set_aside(request.user, thing, upload.data, file_name=upload.name)


def answered(form: KeptFileForm, page: HttpResponse) -> HttpResponse:
    """The form's page, marked for machines where too much is being done at this moment."""
    return page if form.busy is None else as_busy(page, form.busy)


def kept_tokens(form: KeptFileForm) -> dict[str, str]:
    """For the errand: the kept file that is read (`kept`), or that is over all the same."""
    if form.kept is None:
        return {}
    used = form.cleaned_data.get("file") is None
    return {"kept" if used else "over": form.kept.token}
