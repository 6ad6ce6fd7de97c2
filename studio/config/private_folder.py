"""The folder with the school's data is its owner's alone: folders 0700, files 0600.

Called from the settings, so that whatever opens the data has closed it to others first: an
installation made by an earlier version is mended at the next start. Standard library only. On
Windows nothing is done; there the folder's own access list counts.
"""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

MARKER = ".private"
"""Says that everything in the folder has been mended, so that a start need not look again."""
FOLDER_MODE, FILE_MODE = 0o700, 0o600
OTHERS = 0o077


def guard(folder: Path) -> None:
    """Make `folder` where it is missing, and keep it and what is in it from other users.

    What this process makes from now on is private, too. Nothing here stops a start: what belongs
    to somebody else is named on standard error. Raises OSError where the folder cannot be made.
    """
    if os.name == "nt":
        folder.mkdir(parents=True, exist_ok=True)
        return
    os.umask(os.umask(OTHERS) | OTHERS)
    folder.mkdir(parents=True, exist_ok=True)
    mend(folder)


def close_database(path: str | Path) -> None:
    """The same for an SQLite file, wherever it lies; its side files take its mode on."""
    if os.name == "nt":
        return
    for name in (f"{path}", f"{path}-wal", f"{path}-shm"):
        _close(Path(name), [])


def mend(folder: Path) -> None:
    """Close a folder and all in it to others; quick when that was done before."""
    if os.name == "nt" or not folder.is_dir():
        return
    seen = folder.stat()
    if seen.st_mode & stat.S_ISVTX:
        # Such as /tmp: a place that many people share is nobody's to close.
        _say(f"{folder} is shared by all users of this machine. Choose a folder of your own.")
        return
    if seen.st_mode & OTHERS == 0 and _is_marked(folder):
        return
    refused: list[Path] = []
    # From the top down: once the folder itself is closed, nobody can put a link in our way.
    _close(folder, refused)
    for place, folders, files in os.walk(folder):
        for name in (*folders, *files):
            _close(Path(place, name), refused)
    if refused:
        _say(
            f"{len(refused)} files or folders in {folder} stay open to other users, because they "
            f"belong to somebody else: {refused[0]} …"
        )
    else:
        _mark(folder)


def modes_of_static(folder: Path, private: Path) -> dict[str, int]:
    """Modes for collected static files: a web server of another user may read them elsewhere."""
    if folder.resolve().is_relative_to(private.resolve()):
        return {"file_permissions_mode": FILE_MODE, "directory_permissions_mode": FOLDER_MODE}
    return {"file_permissions_mode": 0o644, "directory_permissions_mode": 0o755}


def _is_marked(folder: Path) -> bool:
    """Whether the mark is there and is our own: in a folder once open, others could make one."""
    try:
        seen = (folder / MARKER).lstat()
    except OSError:
        return False
    ours = seen.st_uid == os.geteuid() and seen.st_nlink == 1
    return ours and stat.S_ISREG(seen.st_mode) and seen.st_mode & OTHERS == 0


def _mark(folder: Path) -> None:
    marker = folder / MARKER
    try:
        marker.unlink(missing_ok=True)
        os.close(os.open(marker, os.O_CREAT | os.O_EXCL | os.O_WRONLY, FILE_MODE))
    except OSError:
        pass  # a full or read-only disk: the next start looks again


def _close(path: Path, refused: list[Path]) -> None:
    """Take everybody else's access away; the owner's stays as it is."""
    try:
        seen = path.lstat()
        if stat.S_ISLNK(seen.st_mode):
            return
        wanted = FOLDER_MODE if stat.S_ISDIR(seen.st_mode) else FILE_MODE
        if stat.S_IMODE(seen.st_mode) & OTHERS:
            path.chmod(wanted)
    except FileNotFoundError:
        pass  # gone meanwhile, as a database's own side files go
    except OSError:
        refused.append(path)


def _say(text: str) -> None:
    print(text, file=sys.stderr)
