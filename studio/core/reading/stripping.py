"""Takes out of a picture file what a camera wrote about place, time and owner.

The picture itself stays as it is, dot for dot; so do its turn, its resolution and its colours.
Pillow could only write it anew, and a JPEG would lose by that.
Works on the bytes alone, and gives back the file unchanged where it does not understand it:
a picture that was read is always understood as far as its outer structure goes.
"""

from __future__ import annotations

import struct
import zlib

_PNG_KEPT = frozenset(
    (b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"sBIT", b"pHYs")
)
_WEBP_XMP = 0x04
_ORIENTATION = 0x0112
# Description, maker, model, software, date, artist, computer, XMP, IPTC, Photoshop, copyright.
_TIFF_TEXTS = frozenset(
    (0x010E, 0x010F, 0x0110, 0x0131, 0x0132, 0x013B, 0x013C, 0x02BC, 0x83BB, 0x8649, 0x8298)
)
_TIFF_FOLDERS = frozenset((0x8769, 0x8825, 0xA005))  # camera, place, interoperability
_TIFF_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_MOST_FOLDERS = 200


def stripped(data: bytes, kind: str) -> bytes:
    """`kind` as `uploads.kind_of` says it; other kinds come back unchanged."""
    work = {"jpeg": _jpeg, "png": _png, "webp": _webp, "tiff": _tiff}.get(kind)
    if work is None:
        return data
    try:
        return work(data)
    except (struct.error, IndexError, ValueError):
        return data


def _jpeg(data: bytes) -> bytes:
    """Without comments and application segments, but for colour; the turn is written anew."""
    kept, turn, at = [data[:2]], 1, 2
    while data[at] == 0xFF and data[at + 1] != 0xDA:
        marker = data[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        (length,) = struct.unpack_from(">H", data, at + 2)
        segment = data[at : at + 2 + length]
        if marker == 0xE1 and segment[4:10] == b"Exif\0\0":
            turn = _turn(segment[10:])
        if marker in (0xE0, 0xEE) or not (0xE0 <= marker <= 0xEF or marker == 0xFE):
            kept.append(segment)
        at += 2 + length
    if turn != 1:
        body = b"Exif\0\0" + _only_turn(turn)
        kept.insert(1, b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body)
    return b"".join(kept) + data[at : _end(data, at)]


def _end(data: bytes, at: int) -> int:
    """Just behind the picture's end marker: some cameras append a second, whole picture."""
    while True:
        at = data.index(b"\xff", at)
        marker = data[at + 1]
        if marker == 0xD9:
            return at + 2
        if marker in (0x00, 0x01, 0xFF) or 0xD0 <= marker <= 0xD7:
            at += 1 if marker == 0xFF else 2
        else:
            at += 2 + int(struct.unpack_from(">H", data, at + 2)[0])


def _only_turn(turn: int) -> bytes:
    return struct.pack(">2sHIHHHIHHI", b"MM", 42, 8, 1, _ORIENTATION, 3, 1, turn, 0, 0)


def _turn(tiff: bytes) -> int:
    order = "<" if tiff[:2] == b"II" else ">"
    try:
        (at,) = struct.unpack_from(order + "I", tiff, 4)
        (count,) = struct.unpack_from(order + "H", tiff, at)
        for number in range(min(count, 200)):
            tag, kind, _, value = struct.unpack_from(order + "HHIH", tiff, at + 2 + 12 * number)
            if tag == _ORIENTATION and kind == 3 and 1 <= value <= 8:
                return int(value)
    except struct.error:
        return 1
    return 1


def _png(data: bytes) -> bytes:
    """Only the chunks that make the picture, and its turn."""
    kept, at = [data[:8]], 8
    while at + 12 <= len(data):
        (length,) = struct.unpack_from(">I", data, at)
        name, end = data[at + 4 : at + 8], at + 12 + length
        if end > len(data):
            return data
        if name in _PNG_KEPT:
            kept.append(data[at:end])
        elif name == b"eXIf" and (turn := _turn(data[at + 8 : end - 4])) != 1:
            body = b"eXIf" + _only_turn(turn)
            crc = struct.pack(">I", zlib.crc32(body))
            kept.append(struct.pack(">I", len(body) - 4) + body + crc)
        at = end
        if name == b"IEND":
            break
    return b"".join(kept)


def _webp(data: bytes) -> bytes:
    kept, at = [], 12
    while at + 8 <= len(data):
        name = data[at : at + 4]
        (length,) = struct.unpack_from("<I", data, at + 4)
        end = at + 8 + length + (length & 1)
        chunk = data[at:end]
        if name == b"VP8X" and len(chunk) > 8:
            chunk = chunk[:8] + bytes([chunk[8] & ~_WEBP_XMP]) + chunk[9:]
        if name == b"EXIF":
            content = chunk[8 : 8 + length].removeprefix(b"Exif\0\0")
            small = _only_turn(_turn(content))
            chunk = name + struct.pack("<I", len(small)) + small
        if name != b"XMP ":
            kept.append(chunk)
        at = end
    body = b"".join(kept)
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"WEBP" + body


def _tiff(data: bytes) -> bytes:
    """Texts and the camera's own folders are overwritten with zeros in their places."""
    order = "<" if data[:2] == b"II" else ">"
    out = bytearray(data)
    todo = [(struct.unpack_from(order + "I", data, 4)[0], False)]
    seen: set[int] = set()
    while todo and len(seen) < _MOST_FOLDERS:
        at, private = todo.pop()
        if at in seen or not 8 <= at < len(data):
            continue
        seen.add(at)
        (count,) = struct.unpack_from(order + "H", data, at)
        for number in range(count):
            entry = at + 2 + 12 * number
            tag, kind, many = struct.unpack_from(order + "HHI", data, entry)
            size = _TIFF_SIZES.get(kind, 1) * many
            (where,) = struct.unpack_from(order + "I", data, entry + 8)
            if tag in _TIFF_FOLDERS:
                todo.append((where, True))
            elif private or tag in _TIFF_TEXTS:
                start = entry + 8 if size <= 4 else where
                end = min(start + (4 if size <= 4 else size), len(out))
                if 8 <= start < end:
                    out[start:end] = bytes(end - start)
        (after,) = struct.unpack_from(order + "I", data, at + 2 + 12 * count)
        if after and not private:
            todo.append((after, False))
    return bytes(out)
