"""Walks the entities of a DXF drawing and its blocks and collects every curve that is drawn."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from studio.core.drawing import Finding, Weight

from ..bounds import MAX_DEPTH, MAX_REUSES, Budget
from ..curves import Curve, Matrix, shift, stretch
from ..errors import PatternError
from ..svg.fault import Fault, quoted
from .groups import Contents, Entity, key
from .shapes import KINDS, curve_of, plane_of
from .unread import SILENT, UNREAD

_PLAIN_LAYER = "0"
_MOST_FAULTS = 50


@dataclass(frozen=True, slots=True)
class Found:
    """One curve in the drawing's units, with where it stands in the file."""

    curve: Curve
    element: str
    layer: str
    block: str


@dataclass(frozen=True, slots=True)
class _Place:
    """What an entity takes over from the insert in which it stands."""

    matrix: Matrix
    layer: str = _PLAIN_LAYER
    block: str = ""
    open: tuple[str, ...] = ()


@dataclass(slots=True)
class Walk:
    """One walk over one file; `found` and `findings` grow while it goes."""

    contents: Contents
    budget: Budget
    found: list[Found] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    _said: set[str] = field(default_factory=set)
    _dark: dict[str, None] = field(default_factory=dict)

    def all(self) -> None:
        """Raises PatternError when the drawing repeats itself beyond all bounds."""
        self._visit_all(self.contents.drawn, _Place(Matrix()))
        if self._dark:
            names = [quoted(name, 30) for name in list(self._dark)[:8]]
            more = f" and {len(self._dark) - 8} more" if len(self._dark) > 8 else ""
            several = len(self._dark) > 1
            self._caution(
                "layer-off",
                f"The layer{'s' if several else ''} {', '.join(names)}{more} "
                f"{'are' if several else 'is'} switched off or frozen and left out.",
                "Nothing to do, unless lines are missing: then switch the layer on and save.",
            )

    def _visit_all(self, entities: list[Entity], place: _Place) -> None:
        for entity in entities:
            self.budget.spend_element()
            try:
                self._visit(entity, place)
            except Fault as fault:
                if len(self.findings) < _MOST_FAULTS:
                    self.findings.append(
                        Finding(fault.code, Weight.STOP, fault.message, fault.mend)
                    )

    def _visit(self, entity: Entity, place: _Place) -> None:
        kind = entity.kind
        if kind in SILENT:
            return
        if entity.whole(67) == 1:
            self._caution(
                "sheet-unread",
                "Lines that stand on a print layout, not in the drawing itself, are not read.",
                "Move them into the model, and save the file again.",
            )
            return
        # What stands on layer 0 in a block lies on the layer on which the block was inserted.
        layer = entity.text(8) or _PLAIN_LAYER
        if layer == _PLAIN_LAYER and place.block:
            layer = place.layer
        if self._is_dark(layer, whole=kind == "INSERT"):
            self._dark.setdefault(layer)
            return
        if entity.whole(60) == 1:
            self._caution(
                "line-unseen",
                "Lines that are set to be invisible are left out.",
                "Nothing to do, unless lines are missing: then make them visible and save.",
            )
            return
        if kind == "INSERT":
            self._insert(entity, replace(place, layer=layer))
        elif kind in KINDS:
            curve = curve_of(entity, self.budget)
            if curve is not None:
                mapped = curve.mapped(place.matrix)
                self.found.append(Found(mapped, kind.lower(), layer, place.block))
        else:
            strange = (
                "entity-unread",
                f"Something of the kind {quoted(kind, 30)} is not read.",
                "Draw it with plain lines, arcs and circles, and save the file again.",
            )
            self._caution(*UNREAD.get(kind, strange))

    def _is_dark(self, layer: str, *, whole: bool) -> bool:
        """A frozen layer hides all, one switched off only lines, not what is inserted on it."""
        row = self.contents.layers.get(key(layer))
        if row is None:
            return False
        frozen = bool(row.whole(70) & 1)
        return frozen or (not whole and row.number(62, 7.0) < 0.0)

    def _insert(self, insert: Entity, place: _Place) -> None:
        name = insert.text(2)
        block = self.contents.blocks.get(key(name))
        if block is None:
            raise Fault(
                "block-missing",
                f"The block {quoted(name)} is used in this drawing, but is not in the file.",
                "Put the block into the drawing, or delete the empty copy, and save again.",
            )
        if key(name) in place.open:
            raise Fault(
                "block-loop",
                f"The block {quoted(name)} contains itself, without end.",
                "Delete the copy of the block inside itself and save the file again.",
            )
        if len(place.open) >= MAX_DEPTH:
            raise PatternError(
                "too-deep",
                "The blocks of this drawing are used inside each other too deeply.",
                "Take the blocks apart into lines and save again.",
            )
        base = self.contents.bases[key(name)]
        if base.whole(70) & 4:
            self._caution(*UNREAD["PDFUNDERLAY"])
            return
        into = self._map_of(insert, base, name)
        columns, rows = max(1, insert.whole(70, 1)), max(1, insert.whole(71, 1))
        if columns * rows > MAX_REUSES:
            raise _too_many_copies()
        step_x, step_y = insert.number(44), insert.number(45)
        open_ = (*place.open, key(name))
        for row in range(rows):
            for column in range(columns):
                self.budget.spend_reuse()
                matrix = place.matrix @ into(column * step_x, row * step_y)
                inside = _Place(matrix, place.layer, name or "block", open_)
                self._visit_all(block, inside)

    def _map_of(self, insert: Entity, base: Entity, name: str) -> _Map:
        x, y, _ = base.place(10) or (0.0, 0.0, 0.0)
        scale_x, scale_y = insert.number(41, 1.0), insert.number(42, 1.0)
        if scale_x == 0.0 or scale_y == 0.0:
            raise Fault(
                "transform-flat",
                f"The block {quoted(name)} is scaled to nothing.",
                "Undo the scaling of this block, or delete it.",
            )
        angle = math.radians(insert.number(50))
        cos, sin = math.cos(angle), math.sin(angle)
        at_x, at_y = insert.at(10)
        outer = plane_of(insert) @ shift(at_x, at_y) @ Matrix(cos, sin, -sin, cos)
        return _Map(outer, stretch(scale_x, scale_y) @ shift(-x, -y))

    def _caution(self, code: str, message: str, mend: str) -> None:
        if message not in self._said and len(self._said) < _MOST_FAULTS:
            self._said.add(message)
            self.findings.append(Finding(code, Weight.CAUTION, message, mend))


@dataclass(frozen=True, slots=True)
class _Map:
    """From a block to the drawing, with room for the steps of a grid of copies between."""

    outer: Matrix
    inner: Matrix

    def __call__(self, step_x: float, step_y: float) -> Matrix:
        return self.outer @ shift(step_x, step_y) @ self.inner


def _too_many_copies() -> PatternError:
    return PatternError(
        "too-many-copies",
        f"This drawing repeats its blocks more than {MAX_REUSES:,} times.",
        "Keep one copy of each block; copies are made when the metal is planned.",
    )
