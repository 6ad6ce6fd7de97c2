"""Translation catalogues without gettext's tools: what is to be translated, and the .mo file.

A language is a folder `locale/<code>/LC_MESSAGES` with a `django.po` that people edit and the
`django.mo` that Django reads, made from it. A text with a plural is one entry, its forms joined
by `FORM` as they are in a .mo file. Contexts are not used in this house.
"""

from __future__ import annotations

import ast
import re
import struct
from collections.abc import Iterator
from pathlib import Path

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
_LINE = re.compile(r"(msgid_plural|msgid|msgstr(?:\[\d\])?)\s+(.*)")


class CatalogueIsBroken(ValueError):
    """A .po file that cannot be read; the message names the line."""


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
    """Source text to translation; the head stands under "". Raises CatalogueIsBroken."""
    found: dict[str, str] = {}
    sources: list[str] = []
    targets: list[str] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.strip()
        if not line or line.startswith("#"):
            continue
        match = _LINE.fullmatch(line)
        word, quoted = match.groups() if match else ("", line)
        try:
            said = ast.literal_eval(quoted)
        except (SyntaxError, ValueError) as error:
            raise CatalogueIsBroken(f"line {number}: this is no quoted text") from error
        if not word:
            if not sources:
                raise CatalogueIsBroken(f"line {number}: text before the first msgid")
            (targets or sources)[-1] += said
        elif word == "msgid":
            _put(found, sources, targets, number)
            sources, targets = [said], []
        elif word == "msgid_plural" and len(sources) == 1 and not targets:
            sources.append(said)
        elif word == _next_form(sources, targets):
            targets.append(said)
        else:
            raise CatalogueIsBroken(f"line {number}: “{word}” is not expected here")
    _put(found, sources, targets, 0)
    return found


def write_entry(source: str) -> str:
    """An entry to be translated, as it stands in a .po file."""
    one, *many = source.split(FORM)
    if not many:
        return f'msgid {_quoted(one)}\nmsgstr ""\n'
    return f'msgid {_quoted(one)}\nmsgid_plural {_quoted(many[0])}\nmsgstr[0] ""\nmsgstr[1] ""\n'


def make_mo(entries: dict[str, str]) -> bytes:
    """The entries as a .mo file (GNU gettext manual, "The Format of GNU MO Files", from memory).

    Texts without a translation are left out, so that the English stands for them.
    """
    pairs = sorted(
        (source.encode(), target.encode()) for source, target in entries.items() if target
    )
    count = len(pairs)
    start = 28 + 16 * count
    sources, targets = b"", b""
    for source, _target in pairs:
        sources += source + b"\0"
    heads, places = [], []
    at = start
    for source, _target in pairs:
        heads.append((len(source), at))
        at += len(source) + 1
    for _source, target in pairs:
        targets += target + b"\0"
        places.append((len(target), at))
        at += len(target) + 1
    table = b"".join(struct.pack("<II", *one) for one in heads + places)
    head = struct.pack("<7I", 0x950412DE, 0, count, 28, 28 + 8 * count, 0, start)
    return head + table + sources + targets


def po_of(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / "django.po"


def mo_of(language: str) -> Path:
    return po_of(language).with_suffix(".mo")


def _next_form(sources: list[str], targets: list[str]) -> str:
    """The word with which the next translation of an entry has to begin."""
    if len(sources) == 2:
        return f"msgstr[{len(targets)}]"
    return "msgstr" if sources and not targets else ""


def _put(found: dict[str, str], sources: list[str], targets: list[str], number: int) -> None:
    if not sources:
        return
    if not targets:
        raise CatalogueIsBroken(f"line {number}: a msgid without its msgstr stands before this")
    source = FORM.join(sources)
    if source in found:
        raise CatalogueIsBroken(f"line {number}: “{source[:40]}” stands there twice")
    found[source] = FORM.join(targets) if all(targets) else ""


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


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
