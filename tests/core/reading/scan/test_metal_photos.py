"""Rendered photos of metal whose true outline is known: read to some hundredths of a millimetre.

The bounds are a little wider than what `manage.py bench_metal_photos` measures.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon, box

from studio.core.reading import Asked, PatternError, Upload
from studio.core.reading.frame import FRAMES
from studio.core.reading.metal import MetalAsked, MetalPhoto, read_metal
from studio.core.reading.metal.child import read
from studio.core.reading.proving.metal_photos import (
    Light,
    View,
    photographed_metal,
    random_metal,
)
from studio.core.reading.proving.photographing import Shot, photographed
from studio.core.reading.proving.rendering import file_of
from studio.core.reading.proving.truth import TrueDrawing, TruePiece

A4 = FRAMES["a4"]
ASKED = MetalAsked(thickness_mm=0.8)
FEW = View(tilt_deg=5.0, megapixels=3.5)


def truly(seed: int) -> Polygon:
    return translate(random_metal(seed), (A4.width_mm - 120) / 2, (A4.height_mm - 160) / 2)


def shot(metal: Polygon, colour: str, light: Light, seed: int) -> bytes:
    photo = photographed_metal(A4, metal, colour=colour, light=light, view=FEW, seed=seed)
    return file_of(photo, "JPEG", quality=85)


def windows(found: MetalPhoto) -> list[Polygon]:
    return [one.outline for one in found.openings if one.window]


def off(read_line: Polygon, true_line: Polygon) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    one, other = read_line.exterior, true_line.exterior
    found = [
        shapely.distance(
            shapely.points(shapely.get_coordinates(shapely.segmentize(line, 0.2))), target
        )
        for line, target in ((one, other), (other, one))
    ]
    return np.concatenate(found)


@pytest.mark.parametrize(
    ("seed", "colour"), [(0, "copper"), pytest.param(5, "brass", marks=pytest.mark.slow)]
)
def test_metal_in_even_light_is_read_within_a_tenth_of_a_millimetre(seed: int, colour: str) -> None:
    metal = truly(seed)
    found = read(shot(metal, colour, Light(), seed), "jpeg", ASKED)
    errors = off(found.outer, metal)
    assert np.percentile(errors, 95) < 0.1
    assert errors.mean() < 0.06
    assert len(windows(found)) == len(metal.interiors)


@pytest.mark.slow
def test_mirrored_light_and_scratches_are_no_windows_and_true_ones_stay() -> None:
    metal = truly(1)
    found = read(shot(metal, "brass", Light(glare=2), 1), "jpeg", ASKED)
    true = [Polygon(ring) for ring in metal.interiors]
    for one in windows(found):
        assert any(one.intersection(other).area > 0.8 * one.area for other in true)
    assert any(not one.window for one in found.openings)
    assert "bright-spot" in {finding.code for finding in found.findings}


@pytest.mark.slow
def test_a_window_beside_the_edge_stays_a_window_and_is_told() -> None:
    plate, window = box(0, 0, 70, 50), box(20, 0.6, 40, 12)
    metal = translate(Polygon(plate.exterior, [window.exterior]), 30, 60)
    found = read(shot(metal, "copper", Light(shadow=0.2, soft_mm=1.0), 2), "jpeg", ASKED)
    (one,) = windows(found)
    assert one.area == pytest.approx(window.area, rel=0.05)
    assert found.outer.area == pytest.approx(plate.area, rel=0.005)
    (told,) = [finding for finding in found.findings if finding.code == "bridge-narrow"]
    assert told.value_mm == pytest.approx(0.6, abs=0.2)


@pytest.mark.slow
def test_a_bay_behind_a_narrow_gap_is_a_bay() -> None:
    left, right = [(29.6, 0), (29.6, 3), (20, 3), (20, 12)], [(40, 12), (40, 3), (30.4, 3)]
    corners = [(0, 0), *left, *right, (30.4, 0), (70, 0), (70, 50), (0, 50)]
    metal = translate(Polygon(corners), 30, 60)
    found = read(shot(metal, "copper", Light(shadow=0.2, soft_mm=1.0), 2), "jpeg", ASKED)
    whole = found.outer.difference(shapely.union_all(windows(found)))
    assert whole.area == pytest.approx(metal.area, rel=0.01)


def test_a_hard_shadow_is_left_out_and_told() -> None:
    metal = translate(box(0, 0, 70, 50), 30, 60)
    light = Light(shadow=0.25, soft_mm=0.08, low_deg=30)
    found = read(shot(metal, "copper", light, 4), "jpeg", ASKED)
    assert np.percentile(off(found.outer, metal), 95) < 0.2
    assert "hard-shadow" in {finding.code for finding in found.findings}


@pytest.mark.slow
def test_thickness_is_put_right() -> None:
    # Laid at the frame's corner, thick metal looks larger by its height over the camera's.
    metal = translate(box(0, 0, 100, 150), 22, 25)
    photo = photographed_metal(
        A4, metal, thickness_mm=3.0, light=Light(shadow=0.1, soft_mm=1.0), view=FEW, seed=2
    )
    data = file_of(photo, "JPEG", quality=85)
    flat = read(data, "jpeg", MetalAsked(thickness_mm=0.01)).outer.bounds
    true = read(data, "jpeg", MetalAsked(thickness_mm=3.0)).outer.bounds
    assert flat[3] - flat[1] > 150.6
    assert true[3] - true[1] == pytest.approx(150, abs=0.3)


@pytest.mark.slow
def test_a_pen_line_round_the_metal_loses_half_the_pens_width() -> None:
    metal = box(10, 10, 70, 50)
    drawn = metal.buffer(0.35, join_style="mitre")  # the middle of a pen 0.7 mm wide
    piece = TruePiece(np.array(drawn.exterior.coords)[:-1])
    true = TrueDrawing(80.0, 60.0, 0.7, (piece,))
    photo = photographed(A4, true, Shot(tilt_deg=4.0, megapixels=8.0), seed=3)
    found = read(file_of(photo, "JPEG", quality=85), "jpeg", MetalAsked(0.8, traced=True))
    x0, y0, x1, y1 = found.outer.bounds
    assert x1 - x0 == pytest.approx(60, abs=0.15)
    assert y1 - y0 == pytest.approx(40, abs=0.15)


@pytest.mark.parametrize(
    ("metal", "code"),
    [
        (box(-5, 40, 60, 90), "metal-at-rim"),
        (box(60, 60, 63, 63), "no-metal"),
    ],
)
def test_what_cannot_be_read_is_refused_by_name(metal: Polygon, code: str) -> None:
    with pytest.raises(PatternError) as refused:
        read(shot(metal, "copper", Light(), 0), "jpeg", ASKED)
    assert refused.value.code == code


def test_a_photo_without_the_frame_is_refused() -> None:
    plain = np.full((1200, 900), 230, dtype=np.uint8)
    plain[300:900, 200:700] = 90
    with pytest.raises(PatternError) as refused:
        read(file_of(plain, "JPEG", quality=85), "jpeg", ASKED)
    assert refused.value.code == "frame-missing"


def test_the_confined_process_answers_as_the_reader_does() -> None:
    metal = translate(box(0, 0, 60, 40), 40, 70)
    upload = Upload(shot(metal, "copper", Light(), 6), Asked("IMG_1.jpg"))
    found = read_metal(upload, ASKED)
    assert found.outer.area == pytest.approx(2400, rel=0.01)
    assert found.picture.startswith(b"\xff\xd8")
    assert not any(one.weight == "stop" for one in found.findings)


@pytest.mark.parametrize("data", [b"", b"<svg/>", b"\xff\xd8\xff garbage", b"\x89PNG\r\n\x1a\n"])
def test_what_is_no_photo_is_refused(data: bytes) -> None:
    with pytest.raises(PatternError):
        read_metal(Upload(data), ASKED)
