"""What a copy of the whole database is, whichever database it was made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A whole copy of the database as of one moment, in a file of its own."""

    file: Path
    kind: str
    tables: dict[str, int]
    migrations: tuple[tuple[str, str], ...]
    named: set[str] = field(default_factory=set)
