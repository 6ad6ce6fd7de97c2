"""What runs in the process that makes one PDF: the paper's name and the HTML in, the PDF out."""

from __future__ import annotations

from typing import BinaryIO

from .pdf_making import NoPango, make_pdf

NO_PANGO = b"no pango"


def packed(html: str, paper: str) -> bytes:
    return f"{paper}\n{html}".encode()


def main(source: BinaryIO, target: BinaryIO) -> None:
    paper, _, html = source.read().decode().partition("\n")
    try:
        target.write(make_pdf(html, paper))
    except NoPango:
        target.write(NO_PANGO)
    target.flush()
