"""Measures the reading of scans and photos against drawings whose true lines are known."""

from __future__ import annotations

import time
from argparse import ArgumentParser
from typing import Any

import numpy as np
from django.core.management.base import BaseCommand

from studio.core.drawing import Drawing
from studio.core.reading import PatternError, Tracing, assemble, read_pattern
from studio.core.reading.frame import FRAMES, Frame
from studio.core.reading.proving.judging import Judged, judged
from studio.core.reading.proving.photographing import Shot, photographed
from studio.core.reading.proving.rendering import file_of, scanned
from studio.core.reading.proving.truth import TrueDrawing, random_drawing

_PHOTO_MM = (120.0, 80.0)
_SHOTS = (
    ("photo, straight", Shot()),
    ("photo, 15 degrees", Shot(15.0, 5.0)),
    ("photo, 25 degrees", Shot(25.0, -8.0)),
    ("photo, k1 +0.05", Shot(15.0, 4.0, 0.05)),
    ("photo, k1 -0.05", Shot(15.0, 4.0, -0.05)),
)


class Command(BaseCommand):
    help = (
        "Renders random drawings as 300 dpi scans and as photos in the capture frame, reads them "
        "back through the app's own door, and prints errors in millimetres. Deterministic."
    )
    requires_system_checks: list[str] = []  # Django's own attribute
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--scans", type=int, default=200, help="scans to read")
        parser.add_argument("--photos", type=int, default=4, help="photos of each kind")
        parser.add_argument("--first", type=int, default=0, help="number of the first drawing")

    def handle(self, *args: Any, **options: Any) -> None:
        first = options["first"]
        self.stdout.write(_HEAD)
        rows = [self._scans(first, options["scans"])] if options["scans"] else []
        if options["photos"]:
            for name, shot in _SHOTS:
                rows.append(self._photos(name, shot, first, options["photos"]))
        wrong = sum(len(mistakes) for mistakes in rows)
        self.stdout.write(f"{wrong} drawings with something lost, invented or misread")
        for mistake in [line for mistakes in rows for line in mistakes][:50]:
            self.stdout.write(f"  {mistake}")

    def _scans(self, first: int, count: int) -> list[str]:
        table = _Table("scan, 300 dpi")
        for seed in range(first, first + count):
            true = random_drawing(seed)
            data = file_of(scanned(true, seed=seed), "PNG", dpi=(300, 300))
            table.take(seed, data, true, (0.0, 0.0))
        self.stdout.write(table.row())
        return table.mistakes

    def _photos(self, name: str, shot: Shot, first: int, count: int) -> list[str]:
        table = _Table(name)
        frame: Frame = FRAMES["a4"]
        for seed in range(first, first + count):
            true = random_drawing(seed, *_PHOTO_MM)
            photo = photographed(frame, true, shot, seed=seed)
            table.take(seed, file_of(photo, "JPEG", quality=80), true, middle_shift(frame, true))
        self.stdout.write(table.row())
        return table.mistakes


def middle_shift(frame: Frame, true: TrueDrawing) -> tuple[float, float]:
    """From the frame's corner to that of the drawing, which lies in its middle."""
    return -(frame.width_mm - true.width_mm) / 2, -(frame.height_mm - true.height_mm) / 2


_HEAD = (
    f"{'kind':<20}{'drawings':>9}{'mean':>8}{'p95':>8}{'p99':>8}{'max':>8}"
    f"{'windows':>9}{'marks':>7}{'wrong':>7}{'seconds':>9}"
)


class _Table:
    """Collects one row: distances between true and read lines both ways, every 0.1 mm."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.errors: list[Judged] = []
        self.mistakes: list[str] = []
        self.windows = self.marks = 0
        self.seconds: list[float] = []

    def take(self, seed: int, data: bytes, true: TrueDrawing, shift: tuple[float, float]) -> None:
        begun = time.perf_counter()
        try:
            tracing: Tracing | None = read_pattern(data)
        except PatternError as refused:
            tracing = None
            self.mistakes.append(f"{self.name} {seed}: {refused}")
        self.seconds.append(time.perf_counter() - begun)
        read = Drawing(()) if tracing is None else assemble(tracing).drawing
        found = judged(read, true, shift)
        self.errors.append(found)
        if found.mistakes and tracing is not None:
            self.mistakes.append(f"{self.name} {seed}: {'; '.join(found.mistakes)}")
        self.windows += true.window_count
        self.marks += true.mark_count

    def row(self) -> str:
        every = np.concatenate([found.errors_mm for found in self.errors])
        figures = [
            float(every.mean()),
            *(float(value) for value in np.percentile(every, [95, 99])),
            float(every.max()),
        ]
        shown = "".join(f"{value:8.3f}" for value in figures)
        return (
            f"{self.name:<20}{len(self.errors):>9}{shown}{self.windows:>9}{self.marks:>7}"
            f"{len(self.mistakes):>7}{float(np.median(self.seconds)):9.2f}"
        )
