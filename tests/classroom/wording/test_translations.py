"""Every text of safety pages and prints is translated, and what is compiled is what was written."""

from __future__ import annotations

import re

import polib
import pytest
from django.core.management import call_command
from django.utils import translation

from classroom.catalogs import CatalogueIsBroken, make_mo, po_of, read_po, wanted, write_entry
from classroom.languages import LANGUAGES
from classroom.safety.texts import HURT_NOTE

OTHERS = [language for language in LANGUAGES if language != "en"]


def test_every_text_is_translated_and_compiled() -> None:
    call_command("translations", "--check", verbosity=0)


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_keeps_the_places_where_values_go(language: str) -> None:
    for source, target in read_po(po_of(language).read_text(encoding="utf-8")).items():
        if source:
            assert sorted(re.findall(r"%\(\w+\)s", source)) == sorted(
                re.findall(r"%\(\w+\)s", target)
            ), source


@pytest.fixture(scope="module")
def found() -> set[str]:
    """Every text that is to be translated: looking through the whole house takes seconds."""
    return wanted()


def test_texts_are_looked_for_in_templates_modules_and_constants(found: set[str]) -> None:
    assert "Hand in my answers" in found
    assert "Answer every question; some have no answer yet." in found
    assert HURT_NOTE in found


def test_django_reads_what_was_compiled() -> None:
    with translation.override("es"):
        assert translation.gettext("Hand in my answers") == "Entregar mis respuestas"
    with translation.override("en"):
        assert translation.gettext("Hand in my answers") == "Hand in my answers"


def test_a_compiled_catalogue_is_read_by_pythons_own_reader() -> None:
    """Outside check: the standard library's gettext module."""
    import gettext
    import io

    entries = {"": "Content-Type: text/plain; charset=UTF-8\n", "saw": "sierra ñ", "file": ""}
    read = gettext.GNUTranslations(io.BytesIO(make_mo(entries)))
    assert read.gettext("saw") == "sierra ñ"
    assert read.gettext("file") == "file"


def test_a_text_with_a_plural_is_read_written_and_compiled() -> None:
    """Outside check: the standard library's gettext module."""
    import gettext
    import io

    head = "Content-Type: text/plain; charset=UTF-8\\nPlural-Forms: nplurals=2; plural=(n != 1);\\n"
    text = (
        f'msgid ""\nmsgstr "{head}"\n\n'
        'msgid "%(count)s hole"\nmsgid_plural "%(count)s holes"\n'
        'msgstr[0] "%(count)s agujero"\nmsgstr[1] "%(count)s agujeros"\n'
    )
    entries = read_po(text)
    read = gettext.GNUTranslations(io.BytesIO(make_mo(entries)))
    assert read.ngettext("%(count)s hole", "%(count)s holes", 1) == "%(count)s agujero"
    assert read.ngettext("%(count)s hole", "%(count)s holes", 3) == "%(count)s agujeros"
    (plural,) = set(entries) - {""}
    again = read_po(write_entry(plural).replace('""', '"x"'))
    assert again == {plural: "x\0x"}
    assert read_po(write_entry(plural)) == {plural: ""}  # not translated yet


def test_the_pure_codes_texts_and_those_with_a_plural_are_looked_for(found: set[str]) -> None:
    assert "Prepare the metal" in found  # data of the core
    assert "saw frame with a %(blade)s blade, and spares" in found  # a `say(…)`
    assert "1 pilot hole\0%(count)s pilot holes" in found
    assert "%(count)s project at work\0%(count)s projects at work" in found  # in a template


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('msgid "a"\nmsgid "b"', "line 2: not expected"),
        ('msgid "a"\nmsgstr "b"\nmsgid "a"\nmsgstr "c"', "line 3: .*twice"),
        ("msgid a", "line 1: .*no quoted text"),
        ('msgid ""\nmsgstr ""\n\nmsgid a\nmsgstr "b"', "line 4: .*no quoted text"),
        ('msgid "a"\nmsgstr "b', "line 2: .*no quoted text"),
        ('"a"', "line 1: not expected"),
        ('msgid_plural "a"', "line 1: not expected"),
        ('msgid "a"\nmsgstr "b"\nmsgstr "c"', "line 3: not expected"),
        (
            'msgid "-"\nmsgstr "-"\nmsgid "a"\nmsgid_plural "b"\nmsgstr "c"',
            "line 3: .*not as expected",
        ),
        ('msgid "-"\nmsgstr "-"\nmsgid "a"\nmsgid_plural "b"\nmsgstr[1] "c"', "line 3: .*expected"),
        ('msgctxt "c"\nmsgid "a"\nmsgstr "b"', "line 1: .*no quoted text"),
    ],
)
def test_a_catalogue_that_cannot_be_read_says_where(text: str, why: str) -> None:
    with pytest.raises(CatalogueIsBroken, match=why):
        read_po(text)


def test_a_fault_whose_line_is_not_told_is_refused_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def refuse(_: str) -> None:
        raise OSError("Syntax error")

    monkeypatch.setattr(polib, "pofile", refuse)
    with pytest.raises(CatalogueIsBroken, match="somewhere in it"):
        read_po('msgid "a"\nmsgstr "b"\n')


def test_a_guess_is_no_translation_and_what_nobody_asks_for_any_more_is_passed_over() -> None:
    text = (
        '#, fuzzy\nmsgid "a"\nmsgstr "b"\n\nmsgid "c"\nmsgstr "d"\n\n#~ msgid "e"\n#~ msgstr "f"\n'
    )
    assert read_po(text) == {"a": "", "c": "d"}
