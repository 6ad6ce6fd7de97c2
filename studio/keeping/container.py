"""The file itself: a zip (64-bit sizes) whose last 64 bytes seal everything before them.

The first member says in words what the file is and how to bring it back; the last is the table
of contents. The zip's comment is the SHA-256 of all bytes before it, in hex, so that no turned
bit anywhere goes unnoticed, also not where a zip reader does not look.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any, Final

from .manifest import (
    MANIFEST,
    NOTE,
    VERSION,
    Manifest,
    Member,
    Odd,
    is_ours,
    manifest_from_json,
)
from .refusals import NotWhole, Unusable, disk_words

CHUNK: Final = 1024 * 1024
SEAL: Final = 64
MOST_MANIFEST: Final = 512 * 1024 * 1024
_HEAD: Final = b"PK\x03\x04"
_NAME_AT: Final = 30
"""Where the first member's name begins in a zip."""
_BEFORE_1980: Final = (1980, 1, 1, 0, 0, 0)
WORDS: Final = (
    "A backup of Benchledger: database, uploaded files and key of a school.\n"
    "Keep it as private as the school's own papers.\n\n"
    "python3 manage.py backup --check THIS-FILE   proves it whole\n"
    "python3 manage.py restore THIS-FILE          brings it into an empty installation\n"
)


class Writer:
    """Writes a backup member by member. The file is made, readable by its owner alone."""

    def __init__(self, path: Path) -> None:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        self._file: IO[bytes] = os.fdopen(handle, "w+b")
        self._zip = zipfile.ZipFile(self._file, "w", allowZip64=True)
        self.members: list[Member] = []
        try:
            self._put(NOTE, WORDS.encode())
        except BaseException:
            self.close()
            raise

    def add(self, name: str, content: IO[bytes], *, packed: bool, path: str = "") -> Member:
        """Copy `content` to its end; `packed` where it is worth the time."""
        info = zipfile.ZipInfo(name, _BEFORE_1980)
        info.external_attr = 0o600 << 16
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        seen, size = hashlib.sha256(), 0
        with self._zip.open(info, "w", force_zip64=True) as member:
            while chunk := content.read(CHUNK):
                seen.update(chunk)
                size += len(chunk)
                member.write(chunk)
        kept = Member(name, size, seen.hexdigest(), path)
        self.members.append(kept)
        return kept

    def seal(self, manifest: Manifest) -> None:
        """Write the table of contents and the seal, and see everything onto the disk."""
        self._put(MANIFEST, json.dumps(manifest.to_json()).encode())
        self._zip.comment = b"0" * SEAL
        self._zip.close()
        self._file.flush()
        end = self._file.tell() if self._file.seek(0, os.SEEK_END) else 0
        self._file.seek(0)
        seal = _hash_of(self._file, end - SEAL)
        self._file.seek(end - SEAL)
        self._file.write(seal.encode())
        self._file.flush()
        os.fsync(self._file.fileno())

    def close(self) -> None:
        # Where writing broke off, the end cannot be written either; the file goes anyway.
        with suppress(OSError, ValueError):
            self._zip.close()
        with suppress(OSError):
            self._file.close()

    def _put(self, name: str, data: bytes) -> None:
        info = zipfile.ZipInfo(name, _BEFORE_1980)
        info.external_attr = 0o600 << 16
        info.compress_type = zipfile.ZIP_DEFLATED
        with self._zip.open(info, "w", force_zip64=True) as member:
            member.write(data)


class Backup:
    """An opened backup whose seal and table of contents are in order."""

    def __init__(self, archive: zipfile.ZipFile, manifest: Manifest) -> None:
        self._zip = archive
        self.manifest = manifest

    def copy(self, member: Member, to: IO[bytes] | None) -> None:
        """Write the member's content to `to` (None: only prove it). Raises NotWhole, OSError."""
        seen, size = hashlib.sha256(), 0
        for chunk in self._chunks(member):
            size += len(chunk)
            if size > member.size:
                break
            seen.update(chunk)
            if to is not None:
                to.write(chunk)
        if size != member.size or seen.hexdigest() != member.sha256:
            raise NotWhole([f"{member.name} is damaged."])

    def content(self, member: Member) -> bytes:
        """A small member, whole."""
        import io

        kept = io.BytesIO()
        self.copy(member, kept)
        return kept.getvalue()

    def _chunks(self, member: Member) -> Iterator[bytes]:
        try:
            info = self._zip.getinfo(member.name)
            if info.file_size != member.size or stat.S_ISLNK(info.external_attr >> 16):
                raise NotWhole([f"{member.name} is not what the table of contents says."])
            with self._zip.open(info) as opened:
                while chunk := opened.read(CHUNK):
                    yield chunk
        except NotWhole:
            raise
        except Exception as error:  # a damaged zip may break its reader anywhere
            raise NotWhole([f"{member.name} cannot be read."]) from error


@contextmanager
def opened(path: Path) -> Iterator[Backup]:
    """Raises Unusable (no backup of ours, or none for this version) or NotWhole (damaged)."""
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise Unusable(f"{path} is a folder, not a backup.")
        if not stat.S_ISREG(mode):  # opening a pipe would wait for ever
            raise Unusable(f"{path} is no file.")
        with path.open("rb") as file:
            looks_ours = _begins_like_ours(file)
            archive = _zip_of(path, file, looks_ours)
            data = _manifest_data(archive)
            if not (looks_ours or is_ours(data)):
                raise Unusable(f"{path} is no backup of Benchledger.")
            whole = _seal_holds(file)
            try:
                manifest = manifest_from_json(data)
            except Odd as error:
                if not whole:
                    raise NotWhole([f"{path} is damaged: its seal is broken."]) from error
                raise Unusable(f"{path} cannot be used here: {_why(data, error)}.") from error
            backup = Backup(archive, manifest)
            if not whole:
                raise NotWhole([f"{path} is damaged: its seal is broken.", *_damaged(backup)])
            yield backup
    except FileNotFoundError as error:
        raise Unusable(f"{path} is not there.") from error
    except PermissionError as error:
        raise Unusable(disk_words(error, path)) from error


def _why(data: Any, error: Odd) -> str:
    version = data.get("version") if isinstance(data, dict) else None
    if isinstance(version, int) and version > VERSION:
        return "it was made by a newer version of Benchledger; bring this installation up to it"
    return str(error)


def _begins_like_ours(file: IO[bytes]) -> bool:
    """Also true of a file that breaks off within its first bytes."""
    file.seek(0)
    head = file.read(_NAME_AT + len(NOTE))
    if not head:
        return False
    return _HEAD.startswith(head[:4]) and NOTE.encode().startswith(head[_NAME_AT:])


def _zip_of(path: Path, file: IO[bytes], looks_ours: bool) -> zipfile.ZipFile:
    file.seek(0)
    try:
        return zipfile.ZipFile(file)
    except Exception as error:  # anything may stand where a zip is looked for
        if looks_ours:
            raise NotWhole([f"{path} is damaged: it breaks off, or its end is torn."]) from error
        raise Unusable(f"{path} is no backup of Benchledger.") from error


def _manifest_data(archive: zipfile.ZipFile) -> Any:
    try:
        with archive.open(MANIFEST) as member:
            text = member.read(MOST_MANIFEST + 1)
        return json.loads(text) if len(text) <= MOST_MANIFEST else None
    except Exception:  # damaged, or another program's; what is missing is said by the caller
        return None


def _seal_holds(file: IO[bytes]) -> bool:
    end = file.seek(0, os.SEEK_END)
    if end <= SEAL:
        return False
    file.seek(0)
    seal = _hash_of(file, end - SEAL)
    return file.read(SEAL) == seal.encode()


def _hash_of(file: IO[bytes], length: int) -> str:
    seen = hashlib.sha256()
    while length > 0 and (chunk := file.read(min(CHUNK, length))):
        seen.update(chunk)
        length -= len(chunk)
    return seen.hexdigest()


def _damaged(backup: Backup) -> list[str]:
    """Which contents a broken seal has spoilt, the first of them."""
    found: list[str] = []
    for member in backup.manifest.members:
        try:
            backup.copy(member, None)
        except NotWhole as error:
            found.extend(error.faults)
        if len(found) >= 20:
            break
    return found
