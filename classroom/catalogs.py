"""Translation catalogues without gettext's tools: what is to be translated, and the .mo file.

A language is a folder `locale/<code>/LC_MESSAGES` with a `django.po` that people edit and the
`django.mo` that Django reads, made from it and kept beside it: only developers run this module.
A text with a plural is one entry, its forms joined by `FORM` as they are in a .mo file. Contexts
are not used in this house.

Both files are read and written by polib; what it would pass over in silence is refused here. What
is to be translated is looked for in the syntax tree, by hand: Babel's extractor does not look
inside f-strings before Python 3.12 and stops at half the templates.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import polib
from django.conf import settings
from django.utils.module_loading import import_string
from django.utils.translation.template import templatize

from classroom.safety import texts as safety_texts

LOCALE = Path(__file__).resolve().parent / "locale"
FOLDERS = ("classroom", "inventory", "studio")
FORM = "\0"
CALLS = {"_", "gettext", "gettext_lazy", "gettext_noop", "say"}
CALLS_WITH_PLURAL = {"ngettext", "count_of"}
CONSTANTS = (
    safety_texts.DEFERRAL,
    safety_texts.RECORD_NOTE,
    safety_texts.SIGNATURE_NOTE,
    safety_texts.HURT_NOTE,
    *(
        text
        for line in (*safety_texts.CLASS_CHECKLIST, *safety_texts.PREPARATION_CHECKLIST)
        for text in (line.text, line.heading)
    ),
    *(text for answer in safety_texts.Answer for text in (answer.value, answer.words)),
)
_QUOTED = r"""(u?(?:'''.*?'''|\"\"\".*?\"\"\"|'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*"))"""
_IN_TEMPLATE = re.compile(r"\b(?:gettext|_)\(" + _QUOTED + r"\)", re.DOTALL)
_PLURAL_IN_TEMPLATE = re.compile(
    r"\bngettext\(" + _QUOTED + r",\s*" + _QUOTED + r",\s*count\)", re.DOTALL
)
_LINE = re.compile(r"""(?:msg(?:id|id_plural|str(?:\[\d\])?)\s+)?"(?:[^"\\]|\\.)*"|\#.*|""")
_LINE_OF_FAULT = re.compile(r"\bline \d+")


class CatalogueIsBroken(ValueError):
    """A .po file that cannot be read; the message names the line where that is known."""


def wanted() -> set[str]:
    """Every text that is to be put into other languages.

    Texts that are kept as data are named by `settings.TRANSLATED_TEXTS`: addresses of functions
    that give them.
    """
    found = set(CONSTANTS)
    for address in settings.TRANSLATED_TEXTS:
        found.update(import_string(address)())
    for folder in FOLDERS:
        for module in (Path(settings.BASE_DIR) / folder).rglob("*.py"):
            found.update(_in_module(module.read_text(encoding="utf-8")))
    for template in (Path(settings.BASE_DIR) / "templates").rglob("*.html"):
        found.update(_in_template(template.read_text(encoding="utf-8")))
    return found - {""}


def read_po(text: str) -> dict[str, str]:
    """Source text to translation; the head stands under "". Raises CatalogueIsBroken.

    A translation is empty where it is missing, lacks a form, or is marked as a guess ("fuzzy").
    """
    for number, line in enumerate(text.splitlines(), start=1):
        if not _LINE.fullmatch(line.strip()):
            raise CatalogueIsBroken(f"line {number}: this is no quoted text with its keyword")
    try:
        catalogue = polib.pofile(text)
    except OSError as error:  # it mostly says the line, and calls every fault the same
        told = _LINE_OF_FAULT.search(str(error))
        where = told[0] if told else "somewhere in it"
        raise CatalogueIsBroken(f"{where}: not expected after what stands before") from error
    found = {"": catalogue.metadata_as_entry().msgstr} if catalogue.metadata else {}
    for entry in catalogue:
        if entry.obsolete:
            continue
        forms = sorted(entry.msgstr_plural)
        if forms != list(range(len(forms))) or bool(forms) != bool(entry.msgid_plural):
            raise CatalogueIsBroken(f"line {entry.linenum}: a plural’s forms are not as expected")
        source = FORM.join(filter(None, (entry.msgid, entry.msgid_plural)))
        if source in found:
            raise CatalogueIsBroken(f"line {entry.linenum}: “{source[:40]}” stands there twice")
        said = [entry.msgstr_plural[form] for form in forms] or [entry.msgstr]
        found[source] = FORM.join(said) if entry.translated() else ""
    return found


def write_entry(source: str) -> str:
    """An entry to be translated, as it stands in a .po file."""
    return _entry(source, FORM if FORM in source else "").__unicode__(wrapwidth=0)


def make_mo(entries: dict[str, str]) -> bytes:
    """The entries as a .mo file.

    Texts without a translation are left out, so that the English stands for them.
    """
    catalogue = polib.POFile()
    for source, target in entries.items():
        if source:
            catalogue.append(_entry(source, target))
    for line in entries.get("", "").splitlines():
        name, value = line.split(": ", 1)
        catalogue.metadata[name] = value
    return catalogue.to_binary()


def _entry(source: str, target: str) -> polib.POEntry:
    one, *many = source.split(FORM)
    if not many:
        return polib.POEntry(msgid=one, msgstr=target)
    forms = dict(enumerate(target.split(FORM)))
    return polib.POEntry(msgid=one, msgid_plural=many[0], msgstr_plural=forms)


def po_of(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / "django.po"


def mo_of(language: str) -> Path:
    return po_of(language).with_suffix(".mo")


def _in_module(text: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else None
        name = node.func.attr if isinstance(node.func, ast.Attribute) else name
        said = [
            one.value
            for one in node.args
            if isinstance(one, ast.Constant) and isinstance(one.value, str)
        ]
        if name in CALLS and said:
            yield said[0]
        elif name in CALLS_WITH_PLURAL and len(said) == 2:
            yield FORM.join(said)


def _in_template(text: str) -> Iterator[str]:
    if "i18n" not in text:
        return
    code = templatize(text)
    for match in _IN_TEMPLATE.finditer(code):
        yield str(ast.literal_eval(match[1]))
    for match in _PLURAL_IN_TEMPLATE.finditer(code):
        yield FORM.join(str(ast.literal_eval(one)) for one in match.groups())
