"""How far a value in these tables may be trusted.

Every table says, beside its values, where they were seen and with which of these marks; the
screens can show the mark, and nothing marked `PRACTICE` is ever a hard rule.
"""

from __future__ import annotations

from enum import StrEnum


class Status(StrEnum):
    """Where a value comes from, best first."""

    VERIFIED = "verified"  # read in a public document
    COMPUTED = "computed"  # follows from a verified value or an exact definition
    SECONDARY = "secondary"  # seen only in a weak source
    MEMORY = "memory"  # cited from memory, not seen
    PRACTICE = "practice"  # common practice, no source: an editable default


class UnknownMetalError(ValueError):
    """An alloy, gauge, blade or drill that the tables lack; the message says what they have."""
