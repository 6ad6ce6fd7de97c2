"""Photos in the printed capture frame, taken by a made-up camera whose every number is known."""

from __future__ import annotations

import numpy as np
import pytest

from studio.core.reading import PatternError, assemble
from studio.core.reading.frame import FRAMES
from studio.core.reading.joining.tidying import tidy
from studio.core.reading.proving.judging import judged
from studio.core.reading.proving.photographing import Shot, photographed
from studio.core.reading.proving.rendering import file_of
from studio.core.reading.proving.truth import random_drawing
from studio.core.reading.rough import Asked
from studio.core.reading.scan.child import read
from studio.core.reading.scan.scaling.camera import Camera, fitted_camera

FRAME = FRAMES["a4"]
SHIFT = (-(FRAME.width_mm - 120.0) / 2, -(FRAME.height_mm - 80.0) / 2)


@pytest.mark.parametrize(
    ("seed", "shot"),
    [
        (2, Shot(25.0, 6.0)),
        pytest.param(3, Shot(15.0, -4.0, -0.05), marks=pytest.mark.slow),
    ],
    ids=["25 degrees aslant", "a lens of k1 -0.05"],
)
def test_a_photo_in_the_frame_comes_back_within_the_goal(seed: int, shot: Shot) -> None:
    """The goal is 0.12 mm at the 95th percentile, 0.25 mm with a bending lens."""
    true = random_drawing(seed, 120.0, 80.0)
    data = file_of(photographed(FRAME, true, shot, seed=seed), "JPEG", quality=80)
    tracing = tidy(read(data, "jpeg", Asked()))
    assert (tracing.source.kind, tracing.source.scale_from) == ("photo", "frame")
    found = judged(assemble(tracing).drawing, true, SHIFT)
    assert found.mistakes == []
    assert np.percentile(found.errors_mm, 95) <= 0.12
    assert "frame-uneven" not in [finding.code for finding in tracing.findings]


@pytest.fixture(scope="module")
def straight() -> np.ndarray:
    true = random_drawing(2, 120.0, 80.0)
    return photographed(FRAME, true, Shot(5.0, megapixels=6.0), seed=2)


def test_a_frame_that_hides_all_but_three_markers_is_refused(straight: np.ndarray) -> None:
    covered = straight.copy()
    covered[600:] = 120
    covered[:, : straight.shape[1] // 4] = 120
    with pytest.raises(PatternError) as caught:
        read(file_of(covered, "JPEG"), "jpeg", Asked(frame="a4"))
    assert caught.value.code == "frame-hidden"


def test_with_half_of_the_frame_hidden_the_photo_is_read_with_a_caution(
    straight: np.ndarray,
) -> None:
    covered = straight.copy()
    covered[: straight.shape[0] // 5, straight.shape[1] // 2 :] = 120
    covered[straight.shape[0] * 4 // 5 :, straight.shape[1] // 3 :] = 120
    covered[:, straight.shape[1] * 9 // 10 :] = 120
    covered[straight.shape[0] // 3 : straight.shape[0] // 2, : straight.shape[1] // 8] = 120
    tracing = tidy(read(file_of(covered, "JPEG"), "jpeg", Asked()))
    assert tracing.source.scale_from == "frame"


def test_the_frame_that_was_named_must_be_in_the_photo(straight: np.ndarray) -> None:
    with pytest.raises(PatternError) as caught:
        read(file_of(straight, "JPEG"), "jpeg", Asked(frame="letter"))
    assert caught.value.code == "frame-missing"


def test_a_frame_that_does_not_exist_is_named_in_the_answer(straight: np.ndarray) -> None:
    with pytest.raises(PatternError) as caught:
        read(file_of(straight[:100, :100]), "png", Asked(frame="a3"))
    assert caught.value.code == "frame-unknown"
    assert "a4" in caught.value.mend


def test_a_sheet_that_was_not_flat_gets_a_caution(straight: np.ndarray) -> None:
    """The photo is bent by some dots in the middle, as a sheet that bulges looks."""
    import cv2

    high, wide = straight.shape
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    bulge = 9.0 * np.sin(y / high * np.pi * 2) * np.sin(x / wide * np.pi)
    bent = cv2.remap(straight, x + bulge.astype(np.float32), y, cv2.INTER_LINEAR)
    bent = cv2.remap(bent, x, y + bulge.astype(np.float32), cv2.INTER_LINEAR)
    tracing = tidy(read(file_of(bent, "JPEG"), "jpeg", Asked()))
    codes = {finding.code: finding for finding in tracing.findings}
    assert codes["frame-uneven"].value_mm is not None
    assert codes["frame-uneven"].value_mm > 0.08


def test_the_fitted_camera_is_the_one_that_took_the_picture() -> None:
    truth = Camera(
        np.array([[0.011, 0.001, -0.8], [-0.0006, -0.0105, 0.9], [1e-4, -2e-4, 1.0]]),
        -0.04,
        np.array([1499.5, 1999.5]),
        2000.0,
    )
    paper = np.array([c for marker in FRAME.markers for c in marker.corners])
    found = fitted_camera(paper, truth.seen(paper), (3000, 4000), lens=True)
    inside = np.random.default_rng(1).uniform(0, 140, (50, 2))
    assert np.abs(found.seen(inside) - truth.seen(inside)).max() < 1e-3
    assert found.k1 == pytest.approx(-0.04, abs=1e-5)
