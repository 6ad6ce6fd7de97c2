"""How correcting says that a change cannot be made."""

from __future__ import annotations


class CannotChange(ValueError):
    """The message is a sentence or two for the student; nothing has been changed."""
