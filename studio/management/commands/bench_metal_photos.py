"""Measures the reading of photographed metal against pieces whose true outline is known."""

from __future__ import annotations

import time
from argparse import ArgumentParser
from typing import Any

import numpy as np
import shapely
from django.core.management.base import BaseCommand
from numpy.typing import NDArray
from shapely.affinity import translate
from shapely.geometry import Polygon

from studio.core.reading import PatternError, Upload
from studio.core.reading.frame import FRAMES
from studio.core.reading.metal import MetalAsked, MetalPhoto, read_metal
from studio.core.reading.proving.metal_photos import (
    COLOURS,
    Light,
    View,
    photographed_metal,
    random_metal,
)
from studio.core.reading.proving.rendering import file_of

_LIGHTS = (
    ("even daylight", Light(shadow=0.2, soft_mm=1.0, low_deg=70)),
    ("soft lamp", Light(shadow=0.35, soft_mm=0.3)),
    ("mirrored light", Light(shadow=0.2, soft_mm=0.6, glare=2)),
    ("hard lamp, low", Light(shadow=0.5, soft_mm=0.1, low_deg=50)),
)
_THICK_MM = 0.8
_WIDE_MM, _HIGH_MM = 120.0, 160.0
_ROW = "{:<16}{:>8}{:>8}{:>8}{:>8}{:>8}{:>9}{:>9}{:>7}{:>7}{:>9}"


class Command(BaseCommand):
    help = (
        "Renders photos of metal in the capture frame (four metals in turn, four kinds of light, "
        "made up) and prints how far the read outline lies from the true one, in millimetres."
    )
    requires_system_checks: list[str] = []  # Django's own attribute
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--photos", type=int, default=8, help="photos in each kind of light")
        parser.add_argument("--first", type=int, default=0, help="number of the first piece")

    def handle(self, *args: Any, **options: Any) -> None:
        head = ("light", "photos", "mean", "p95", "p99", "max", "area %", "windows", "lost")
        self.stdout.write(_ROW.format(*head, "extra", "seconds"))
        for name, light in _LIGHTS:
            self._row(name, light, range(options["first"], options["first"] + options["photos"]))

    def _row(self, name: str, light: Light, seeds: range) -> None:
        frame = FRAMES["a4"]
        left, low = (frame.width_mm - _WIDE_MM) / 2, (frame.height_mm - _HIGH_MM) / 2
        errors: list[NDArray[np.float64]] = []
        areas: list[float] = []
        seconds: list[float] = []
        windows = lost = extra = 0
        for seed in seeds:
            metal = translate(random_metal(seed, _WIDE_MM, _HIGH_MM), left, low)
            photo = photographed_metal(
                frame,
                metal,
                colour=list(COLOURS)[seed % len(COLOURS)],
                thickness_mm=_THICK_MM,
                light=light,
                view=View(tilt_deg=5.0 + 4.0 * (seed % 3)),
                seed=seed,
            )
            begun = time.perf_counter()
            try:
                upload = Upload(file_of(photo, "JPEG", quality=85))
                found = read_metal(upload, MetalAsked(_THICK_MM))
            except PatternError as refused:
                self.stdout.write(f"  {name} {seed}: {refused}")
                continue
            seconds.append(time.perf_counter() - begun)
            gone, more = _windows(found, metal)
            windows, lost, extra = windows + len(metal.interiors), lost + gone, extra + more
            errors.append(_apart(found.outer, Polygon(metal.exterior)))
            areas.append(abs(found.outer.area / Polygon(metal.exterior).area - 1) * 100)
        every = np.concatenate(errors) if errors else np.zeros(1)
        figures = [every.mean(), *np.percentile(every, [95, 99]), every.max()]
        self.stdout.write(
            _ROW.format(
                name,
                len(errors),
                *(f"{figure:.3f}" for figure in figures),
                f"{np.median(areas):.2f}",
                windows,
                lost,
                extra,
                f"{np.median(seconds):.2f}",
            )
        )


def _windows(found: MetalPhoto, metal: Polygon) -> tuple[int, int]:
    """How many true windows are lost, and how many of those read are none."""
    read = [one.outline for one in found.openings if one.window]
    true = [Polygon(ring) for ring in metal.interiors]
    met = [any(a.intersection(b).area > 0.7 * b.area for a in read) for b in true]
    real = [any(a.intersection(b).area > 0.7 * a.area for b in true) for a in read]
    return met.count(False), real.count(False)


def _apart(read: Polygon, true: Polygon) -> NDArray[np.float64]:
    """Distances every 0.2 mm, both ways."""
    found = []
    for line, target in ((read.exterior, true.exterior), (true.exterior, read.exterior)):
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(line, 0.2)))
        found.append(shapely.distance(points, target))
    return np.concatenate(found)
