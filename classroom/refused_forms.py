"""What a page's refused forms say, gathered for the summary that stands above everything else.

Any form or formset that was looked at and refused is found in what the view shows, also inside
lists and dataclasses, and goes to the controls that the page really has: so no page can forget
its summary, and none has a link that leads nowhere. A page that draws its form by hand shows
`Wrong`s of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from itertools import islice
from typing import Any

from django.forms import BoundField
from django.forms.forms import BaseForm
from django.forms.formsets import BaseFormSet
from django.utils.translation import gettext as _

MOST = 30
"""Things to put right that are named one by one; of a long table the rest is counted."""
DEEPEST = 4
MOST_LOOKED_AT = 500
_NOT_LOOKED_IN = {"request", "user", "perms", "messages", "block", "nav", "school", "csrf_token"}
_CONTROLS = re.compile(r"<(?:input|select|textarea)\b[^>]*>")
_NAME, _ID = re.compile(r'\sname="([^"]*)"'), re.compile(r'\sid="([^"]*)"')
_HIDDEN = re.compile(r'\stype="hidden"')


@dataclass(frozen=True, slots=True)
class Wrong:
    """One thing to put right: which field (none: the form as a whole) and why.

    `name` is the name under which the control to go to is sent, `goes_to` its id on the page.
    """

    label: str
    why: str
    name: str = ""
    goes_to: str = ""


def wrongs_in(shown: Mapping[str, Any], deepest: int = DEEPEST) -> list[Wrong]:
    """Every message of every refused form among what a page shows, so deep inside lists."""
    values = [value for name, value in shown.items() if name not in _NOT_LOOKED_IN]
    wrongs = (wrong for form in _forms(values, set(), deepest) for wrong in _of(form))
    return list(dict.fromkeys(wrongs))


def on_page(wrongs: list[Wrong], page: str) -> list[Wrong]:
    """The same in the page's own order, each with the id of its control where there is one."""
    places: dict[str, tuple[int, str]] = {}
    for control in _CONTROLS.finditer(page):
        name, its_id = _NAME.search(control[0]), _ID.search(control[0])
        if name and its_id and not _HIDDEN.search(control[0]):
            places.setdefault(name[1], (control.start(), its_id[1]))
    whole = [wrong for wrong in wrongs if wrong.name not in places]
    placed = [wrong for wrong in wrongs if wrong.name in places]
    placed.sort(key=lambda wrong: places[wrong.name][0])
    return whole + [replace(wrong, goes_to=places[wrong.name][1]) for wrong in placed]


def _forms(
    values: Iterable[Any], seen: set[int], deeper: int
) -> Iterator[Wrong | BaseForm | BaseFormSet[Any]]:
    for value in islice(values, MOST_LOOKED_AT):
        if isinstance(value, Wrong):
            yield value
        elif isinstance(value, BaseForm | BaseFormSet):
            if id(value) in seen or not _was_looked_at(value):
                continue
            seen.add(id(value))
            if isinstance(value, BaseFormSet):
                seen.update(id(form) for form in value.forms)
            yield value
        elif deeper and isinstance(value, list | tuple | dict):
            inside: Iterable[Any] = value.values() if isinstance(value, dict) else value
            yield from _forms(inside, seen, deeper - 1)
        elif deeper and is_dataclass(value) and not isinstance(value, type):
            inside = (getattr(value, field.name) for field in fields(value))
            yield from _forms(inside, seen, deeper - 1)


def _was_looked_at(form: Any) -> bool:
    """A bound form that nobody has asked about is not refused; asking here would judge it."""
    return bool(form.is_bound and (form._errors or getattr(form, "_non_form_errors", None)))


def _of(form: Wrong | BaseForm | BaseFormSet[Any]) -> Iterator[Wrong]:
    if isinstance(form, Wrong):
        yield form
        return
    if isinstance(form, BaseFormSet):
        for why in form.non_form_errors():
            yield Wrong("", str(why), _first_of(*form.forms[:1]))
        row = str(getattr(form, "row_name", "") or _("Line"))
        for number, one in enumerate(form.forms, start=1):
            for wrong in _of(one):
                where = f"{row} {number}"
                yield replace(wrong, label=f"{where}, {wrong.label}" if wrong.label else where)
        return
    for why in form.non_field_errors():
        yield Wrong("", str(why), _first_of(form))
    for name, errors in form.errors.items():
        if name in form.fields:
            field: BoundField = form[name]
            for why in errors:
                yield Wrong(str(field.label), str(why), field.html_name)


def _first_of(*forms: BaseForm) -> str:
    """What is wrong with a form as a whole leads to its beginning."""
    return next((field.html_name for form in forms for field in form.visible_fields()), "")
