"""Translation catalogues without gettext's tools: what is to be translated, and the .mo file.

A language is a folder `locale/<code>/LC_MESSAGES` with a `django.po` that people edit and the
`django.mo` that Django reads, made from it. Plurals and contexts are not used in this house.
"""

from __future__ import annotations

import ast
import re
import struct
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.utils.translation.template import templatize

from . import safety_texts

HERE = Path(__file__).resolve().parent
LOCALE = HERE / "locale"
CALLS = {"_", "gettext", "gettext_lazy", "gettext_noop"}
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
    *(answer.words for answer in safety_texts.Answer),
)
_QUOTED = r"""(u?(?:'''.*?'''|\"\"\".*?\"\"\"|'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*"))"""
_IN_TEMPLATE = re.compile(r"\b(?:gettext|_)\(" + _QUOTED + r"\)", re.DOTALL)


class CatalogueIsBroken(ValueError):
    """A .po file that cannot be read; the message names the line."""


def wanted() -> set[str]:
    """Every text of the classroom that is to be put into other languages."""
    found = set(CONSTANTS)
    for folder in (HERE, Path(settings.BASE_DIR) / "studio"):
        for module in folder.rglob("*.py"):
            found.update(_in_module(module.read_text(encoding="utf-8")))
    for template in (Path(settings.BASE_DIR) / "templates").rglob("*.html"):
        found.update(_in_template(template.read_text(encoding="utf-8")))
    return found


def read_po(text: str) -> dict[str, str]:
    """Source text to translation; the head stands under "". Raises CatalogueIsBroken."""
    found: dict[str, str] = {}
    source: str | None = None
    target: str | None = None
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.strip()
        if not line or line.startswith("#"):
            continue
        word, _, rest = line.partition(" ")
        quoted = line if line.startswith('"') else rest
        try:
            said = ast.literal_eval(quoted)
        except (SyntaxError, ValueError) as error:
            raise CatalogueIsBroken(f"line {number}: this is no quoted text") from error
        if line.startswith('"'):
            if target is not None:
                target += said
            elif source is not None:
                source += said
            else:
                raise CatalogueIsBroken(f"line {number}: text before the first msgid")
        elif word == "msgid":
            _put(found, source, target, number)
            source, target = said, None
        elif word == "msgstr" and source is not None and target is None:
            target = said
        else:
            raise CatalogueIsBroken(f"line {number}: “{word}” is not expected here")
    _put(found, source, target, 0)
    return found


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


def _put(found: dict[str, str], source: str | None, target: str | None, number: int) -> None:
    if source is None:
        return
    if target is None:
        raise CatalogueIsBroken(f"line {number}: a msgid without its msgstr stands before this")
    if source in found:
        raise CatalogueIsBroken(f"line {number}: “{source[:40]}” stands there twice")
    found[source] = target


def _in_module(text: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(text)):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else None
        name = node.func.attr if isinstance(node.func, ast.Attribute) else name
        said = node.args[0]
        if name in CALLS and isinstance(said, ast.Constant) and isinstance(said.value, str):
            yield said.value


def _in_template(text: str) -> Iterator[str]:
    if "i18n" not in text:
        return
    for match in _IN_TEMPLATE.finditer(templatize(text)):
        yield str(ast.literal_eval(match[1]))
