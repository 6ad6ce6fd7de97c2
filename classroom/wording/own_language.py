"""A person's own language: which one their bench and safety pages come in from now on."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from classroom.languages import LANGUAGES
from classroom.models import User, record
from classroom.refusals import Refused


@transaction.atomic
def remember_language(person: User, language: str) -> None:
    """Remember the language on the person's account; "" is whatever the school has.

    Raises Refused for a language that the house does not have.
    """
    if language and language not in LANGUAGES:
        raise Refused(_("Choose one of the languages on the list."))
    if not User.objects.filter(pk=person.pk).exclude(language=language).update(language=language):
        return
    person.language = language
    chosen = LANGUAGES.get(language, "the school's language")
    record(person, "choose-language", person, f"{person} chose {chosen} for the bench")
