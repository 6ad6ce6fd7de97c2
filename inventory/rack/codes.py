"""A piece's address as a QR code, for its page and for the label that is stuck on the metal."""

from __future__ import annotations

import io

import segno
from django.utils.safestring import SafeString, mark_safe


def qr_svg(address: str, title: str, *, fills: bool = False) -> SafeString:
    """The address as a QR code; black on white whatever the page's colours, no inline style.

    With `fills` the picture takes the size that its surroundings give it.
    """
    buffer = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        buffer,
        kind="svg",
        xmldecl=False,
        svgns=False,
        border=4,
        scale=4,
        dark="#000",
        light="#fff",
        title=title,
        svgclass="qr",
        omitsize=fills,
        nl=False,
    )
    svg = buffer.getvalue().decode("utf-8").replace("<svg ", '<svg role="img" ', 1)
    return mark_safe(svg)  # noqa: S308 -- segno escapes the title; the rest is its own numbers
