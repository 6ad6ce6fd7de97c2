"""The group codes of a DXF file as plain entities, read with bounds.

A DXF file is a list of pairs, a code and a value; a pair with code 0 begins an entity. The
tolerant loader of ezdxf turns bytes into pairs (text encodings, disordered points, numbers
with stray signs); only its loader is used, because building its whole document and mending
it takes time that a hostile file can drive up without end.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

from ..bounds import MAX_BYTES, MAX_NUMBER
from ..errors import PatternError
from ..svg.fault import Fault
from ..tracing import Point

MAX_RECORDS = 60_000  # entities, corners and table rows together
MAX_GROUPS = 400_000
_MOST_TEXT = 255
_BINARY = b" Binary DXF\r\n\x1a\x00"

# What the loader says about each mended value is no news to whoever runs the site.
logging.getLogger("ezdxf").setLevel(logging.CRITICAL)


@dataclass(slots=True)
class Entity:
    """One entity: its kind ("LINE"), its groups, and the corners that follow a POLYLINE."""

    kind: str
    groups: list[tuple[int, Any]] = field(default_factory=list)
    corners: list[Entity] = field(default_factory=list)

    def number(self, code: int, default: float = 0.0) -> float:
        """The first value with this code. Raises `Fault` when it is no usable number."""
        value = self._first(code)
        return default if value is None else self.usable(value)

    def whole(self, code: int, default: int = 0) -> int:
        return int(self.number(code, default))

    def text(self, code: int, default: str = "") -> str:
        value = self._first(code)
        return default if value is None else plain(str(value))

    def place(self, code: int) -> tuple[float, float, float] | None:
        """The first point with this code; a point without z lies at height 0."""
        value = self._first(code)
        return None if value is None else self.point(value)

    def at(self, code: int) -> Point:
        """As `place`, but flat and required."""
        found = self.place(code)
        if found is None:
            raise Fault(
                "entity-unfinished",
                f"A {self.kind} in this drawing has no place: a point is missing.",
                "Delete it, draw it again and save the file again.",
            )
        return found[0], found[1]

    def places(self, code: int) -> list[tuple[float, float, float]]:
        return [self.point(value) for each, value in self.groups if each == code]

    def numbers(self, code: int) -> list[float]:
        return [self.usable(value) for each, value in self.groups if each == code]

    def usable(self, value: Any) -> float:
        number = value if isinstance(value, int | float) else math.nan
        if not abs(number) <= MAX_NUMBER:  # also refuses what is not a number
            raise Fault(
                "number-bad",
                f"A {self.kind} in this drawing has a number that cannot be used.",
                "Delete it, draw it again and save the file again.",
            )
        return float(number)

    def _first(self, code: int) -> Any:
        return next((value for each, value in self.groups if each == code), None)

    def point(self, value: Any) -> tuple[float, float, float]:
        if not isinstance(value, tuple) or not 2 <= len(value) <= 3:
            value = (math.nan, math.nan)
        x, y, *z = (self.usable(number) for number in value)
        return x, y, z[0] if z else 0.0


@dataclass(slots=True)
class Contents:
    """The parts of a file that matter for its lines."""

    unit: int | None = None
    layers: dict[str, Entity] = field(default_factory=dict)
    blocks: dict[str, list[Entity]] = field(default_factory=dict)
    bases: dict[str, Entity] = field(default_factory=dict)
    drawn: list[Entity] = field(default_factory=list)


def plain(text: str) -> str:
    """Text of the file on one line and not too long."""
    return "".join(char for char in text[:_MOST_TEXT] if char.isprintable()).strip()


def key(name: str) -> str:
    """Names of blocks and layers do not tell capital letters from small ones."""
    return name.casefold()


def looks_like_dxf(data: bytes) -> bool:
    """Whether the first bytes are those of a DXF file, in text or binary form."""
    if _BINARY in data[:64]:
        return True
    lines = data[:4096].removeprefix(b"\xef\xbb\xbf").lstrip().split(b"\n")
    words = [line.strip() for line in lines]
    while words[:1] == [b"999"]:  # a remark
        words = words[2:]
    return words[:2] == [b"0", b"SECTION"]


def contents_of(data: bytes) -> Contents:
    """Raises PatternError for a file that is too large, binary, or no DXF at all."""
    if len(data) > MAX_BYTES:
        raise PatternError(
            "file-too-large",
            f"This file is larger than {MAX_BYTES // 1_000_000} MB.",
            "Save only the lines to be sawn, without hidden layers.",
        )
    if _BINARY in data[:64]:
        raise PatternError(
            "dxf-binary",
            "This is a binary DXF file; only the text form is read.",
            "Save the drawing again as DXF and choose the text form (ASCII).",
        )
    if data.count(b"\n") > 2 * MAX_GROUPS:
        raise _too_many()  # the loader looks ahead for the text encoding, perhaps to the end
    contents = Contents()
    try:
        _sort(_entities(data), contents)
    except PatternError:
        raise
    except Exception as broken:
        # The loader is somebody else's: whatever it stumbles over, the file is at fault.
        raise _unreadable() from broken
    return contents


def _too_many() -> PatternError:
    return PatternError(
        "too-many-elements",
        f"This drawing has more than {MAX_RECORDS:,} entities and corners.",
        "Save only the lines to be sawn, without hatching and hidden layers.",
    )


def _unreadable() -> PatternError:
    return PatternError(
        "dxf-broken",
        "This DXF file is damaged or is not a DXF file.",
        "Open it in your drawing program and save it again as DXF.",
    )


def _entities(data: bytes) -> Iterator[Entity]:
    """Each entity with its own groups, without what programs append for themselves."""
    from ezdxf.recover import safe_tag_loader

    records = 0
    current: Entity | None = None
    foreign = False
    # The loader stops in silence where the file breaks off inside its last pair.
    pairs = safe_tag_loader(BytesIO(data + b"\n0\nEOF\n"), errors="ignore")
    for group in pairs:
        code, value = group.code, group.value
        if code == 0:
            if current is not None:
                yield current
            records += 1
            current, foreign = Entity(plain(str(value)).upper()), False
        elif code >= 1000 or code == 101:
            foreign = True  # extended data, or an object embedded in this one
        elif code == 102:
            foreign = str(value).startswith("{")
        elif current is not None and not foreign:
            current.groups.append((code, value))
        if records > MAX_RECORDS:
            raise _too_many()
    if current is not None:
        yield current


def _sort(entities: Iterator[Entity], contents: Contents) -> None:
    """Sorts the entities by the section in which they stand."""
    section = ""
    sections = 0
    block: list[Entity] | None = None
    polyline: Entity | None = None
    for entity in entities:
        if entity.kind == "SECTION":
            section, block, polyline = entity.text(2).upper(), None, None
            sections += 1
            if section == "HEADER":
                contents.unit = _unit(entity)
        elif entity.kind in ("ENDSEC", "EOF"):
            section, block, polyline = "", None, None
        elif section == "TABLES" and entity.kind == "LAYER":
            contents.layers.setdefault(key(entity.text(2)), entity)
        elif section == "BLOCKS" and entity.kind == "BLOCK":
            name = key(entity.text(2))
            block = contents.blocks.setdefault(name, [])
            contents.bases.setdefault(name, entity)
        elif section == "BLOCKS" and entity.kind == "ENDBLK":
            block = polyline = None
        elif section in ("ENTITIES", "BLOCKS"):
            home = contents.drawn if section == "ENTITIES" else block
            if entity.kind == "VERTEX" and polyline is not None:
                polyline.corners.append(entity)
            elif home is not None and entity.kind not in ("SEQEND", "VERTEX"):
                home.append(entity)
                polyline = entity if entity.kind == "POLYLINE" else None
            else:
                polyline = None
    if not sections:
        raise _unreadable()


def _unit(header: Entity) -> int | None:
    """The number after `$INSUNITS`, where it is one."""
    name = ""
    for code, value in header.groups:
        if code == 9:
            name = str(value).strip().upper()
        elif name == "$INSUNITS" and isinstance(value, int):
            return value
    return None
