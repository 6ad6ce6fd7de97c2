"""The school's own safety data sheets: PDF files kept in private storage.

A file is kept under the hash of its content, so that an older sheet is never written over. It
is served as an attachment to signed-in people of the school and never shown inside a page.
"""

from __future__ import annotations

import hashlib
import io
import re
from pathlib import PurePath
from typing import Final

from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.core.files.uploadedfile import UploadedFile

from classroom.models import Substance
from classroom.refusals import Refused
from classroom.wording.typed_lines import tidy

BYTES_MOST: Final = 5 * 1024 * 1024
PAGES_MOST: Final = 60
# Parts of a PDF that run or open something; a data sheet needs none of them.
_ACTIVE: Final = re.compile(rb"/(JavaScript|JS|Launch|EmbeddedFile|RichMedia|XFA)\b")
AS_PLAIN = "Print it to a plain PDF and upload that."


def read_sheet(upload: UploadedFile[bytes]) -> tuple[str, bytes]:
    """The file's name and content. Raises Refused for anything but a plain, bounded PDF."""
    if upload.size is None or upload.size > BYTES_MOST:
        raise Refused(f"The file is larger than {BYTES_MOST // 2**20} MB. {AS_PLAIN}")
    data = upload.read(BYTES_MOST + 1)
    if not data.startswith(b"%PDF-") or b"%%EOF" not in data[-2048:]:
        raise Refused("This is no whole PDF file. Upload the safety data sheet as a PDF.")
    if _ACTIVE.search(data):
        raise Refused(f"This PDF runs scripts or carries other files. {AS_PLAIN}")
    pages = _pages(data)
    if not 1 <= pages <= PAGES_MOST:
        raise Refused(f"A safety data sheet has 1 to {PAGES_MOST} pages; this has {pages}.")
    stem = tidy(PurePath(upload.name or "").stem)[:110] or "safety-data-sheet"
    return f"{stem}.pdf", data


def keep_sheet(substance: Substance, data: bytes) -> str:
    """Keep the content and return its hash."""
    sha = hashlib.sha256(data).hexdigest()
    path = sheet_path(substance.school_id, sha)
    if not storages["evidence"].exists(path):
        storages["evidence"].save(path, ContentFile(data))
    return sha


def sheet_bytes(substance: Substance) -> bytes:
    """The kept file. Raises FileNotFoundError when the storage has lost it."""
    with storages["evidence"].open(sheet_path(substance.school_id, substance.sheet_sha)) as file:
        return bytes(file.read())


def sheet_path(school: int, sha: str) -> str:
    """Where a sheet of this content lies in the private store."""
    return f"safety-sheets/{school}/{sha}.pdf"


def _pages(data: bytes) -> int:
    from pypdf import PdfReader

    try:
        reader = PdfReader(io.BytesIO(data))
        if reader.is_encrypted:
            raise Refused(f"This PDF is locked by a password. {AS_PLAIN}")
        return len(reader.pages)
    except Refused:
        raise
    except Exception as error:  # a hostile file may break the reader anywhere
        raise Refused(f"This PDF cannot be read. {AS_PLAIN}") from error
