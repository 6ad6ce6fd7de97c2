"""A mistake in one element: that element is left out, the rest of the file is still read."""

from __future__ import annotations


class Fault(Exception):
    """Becomes a stop finding that names the element; see `studio.core.drawing.Finding`."""

    def __init__(self, code: str, message: str, mend: str) -> None:
        super().__init__(code, message, mend)
        self.code = code
        self.message = message
        self.mend = mend


def quoted(text: str, most: int = 40) -> str:
    """A piece of the student's file, short and on one line, for use inside a sentence."""
    clean = "".join(char if char.isprintable() else " " for char in text)
    return f"“{clean[:most]}…”" if len(clean) > most else f"“{clean}”"
