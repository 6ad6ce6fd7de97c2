"""What a person may type as one line of text: no control characters, no invisible ones."""

from __future__ import annotations

import unicodedata

from django.core.exceptions import ValidationError

_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def tidy(text: str) -> str:
    """One line: composed letters, single blanks, nothing invisible or turned around."""
    kept = "".join(
        " " if char.isspace() else char
        for char in unicodedata.normalize("NFC", text)
        if char.isspace() or unicodedata.category(char) not in _HIDDEN
    )
    return " ".join(kept.split())


def plain_line(text: str) -> str:
    """`text` tidied; raises ValidationError where nothing to read is left."""
    line = tidy(text)
    if not any(char.isalnum() for char in line):
        raise ValidationError("Type at least one letter or digit.")
    return line


def lines_of(text: str, *, most: int, longest: int) -> list[str]:
    """The filled lines of a text box, tidied; raises ValidationError past the bounds."""
    lines = [line for line in (tidy(raw) for raw in text.splitlines()) if line]
    if len(lines) > most:
        raise ValidationError(f"At most {most} lines; there are {len(lines)}.")
    for number, line in enumerate(lines, start=1):
        if len(line) > longest:
            raise ValidationError(
                f"Line {number} has {len(line)} characters; a line has at most {longest}."
            )
    return lines
