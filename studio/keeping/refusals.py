"""How keeping and bringing back say no. Each carries sentences for a person, never a traceback."""

from __future__ import annotations

from collections.abc import Sequence

from classroom.files.full_disk import is_full


class Unusable(Exception):
    """The file cannot be used at all, or not here; one line says what and where. Exit status 2."""


class NotWhole(Exception):
    """A backup of Benchledger that is damaged; `faults` has one sentence for each. Status 1."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("; ".join(faults))
        self.faults = tuple(faults)


class NotKept(Exception):
    """No backup could be made; the message says why and what to do. Exit status 1."""


def disk_words(error: BaseException, where: object) -> str:
    """An error of the disk at `where` as a sentence."""
    if is_full(error):
        return (
            f"The disk of {where} is full. Make room there, or keep backups elsewhere "
            "(BENCHLEDGER_BACKUP_FOLDER)."
        )
    if isinstance(error, PermissionError):
        return f"{where} may not be read or written by the user that runs Benchledger."
    said = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return f"{where}: {one_line(said)}."


def one_line(text: str, most: int = 240) -> str:
    """`text` without line ends, not too long, without its last full stop."""
    return " ".join(text.split())[:most].rstrip(" .")
