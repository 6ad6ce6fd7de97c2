"""Scale from a thing of known size beside the drawing."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from studio.core.reading import PatternError
from studio.core.reading.joining.tidying import tidy
from studio.core.reading.rough import Asked, Reference
from studio.core.reading.scan.child import read
from studio.core.reading.scan.scaling.rims import rim_near

from .pages import PX, file_of, ink, paper, scan

# ISO/IEC 7810, size ID-1: 85.60 x 53.98 mm.
CARD = (85.60, 53.98)
# US Mint coin specifications: quarter 24.26 mm; Council Regulation (EC) 975/98: 1 euro 23.25 mm.
COINS = {"quarter": 24.26, "1 euro": 23.25}
SQUARE = [(10.0, 65.0), (40.0, 65.0), (40.0, 87.0), (10.0, 87.0)]


def size_of(grey: np.ndarray, reference: Reference) -> tuple[float, float]:
    """Width and height of the smallest closed line: the drawing, not the card or coin."""
    tracing = tidy(read(file_of(grey), "png", Asked(reference=reference)))
    assert tracing.source.scale_from == "reference"
    assert any(finding.code.startswith("reference-") for finding in tracing.findings)
    sizes = []
    for line in tracing.lines:
        if line.closed:
            x0, y0, x1, y1 = line.polygon.bounds
            sizes.append((x1 - x0, y1 - y0))
    return min(sizes)


def test_a_card_aslant_gives_scale_and_perspective() -> None:
    page = paper(110.0, 95.0)
    ink(page, SQUARE)
    card = [(12.0, 6.0), (12.0 + CARD[0], 6.0), (12.0 + CARD[0], 6.0 + CARD[1]), (12.0, 59.98)]
    ink(page, card, fill=120, pen_mm=0)
    flat = scan(page)
    high, wide = flat.shape
    rim = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], dtype=np.float32)
    seen = rim + np.array([[90, 60], [-20, 0], [0, -10], [10, 20]], dtype=np.float32)
    aslant = cv2.getPerspectiveTransform(rim, seen)
    photo = cv2.warpPerspective(flat, aslant, (wide, high), borderValue=245)
    corners = cv2.perspectiveTransform(np.array([card], dtype=np.float64) * PX, aslant)[0]
    tapped = corners + np.array([[4, -3], [-3, 4], [2, 3], [-4, 2]])  # nobody taps exactly
    reference = Reference("card", tuple(map(tuple, tapped.tolist())), *CARD)
    tracing = tidy(read(file_of(photo), "png", Asked(reference=reference)))
    assert len(tracing.lines) == 1, "the card is no piece of the drawing"
    assert size_of(photo, reference) == pytest.approx((30.0, 22.0), abs=0.2)


@pytest.mark.parametrize("coin", list(COINS))
def test_a_coins_rim_gives_the_scale(coin: str) -> None:
    page = paper(60.0, 95.0)
    ink(page, SQUARE)
    radius = COINS[coin] / 2 * PX
    rim = tuple(
        (30 * PX + radius * math.cos(t), 20 * PX + radius * math.sin(t)) for t in (0.1, 2.0, 4.4)
    )
    reference = Reference("coin", rim, COINS[coin])
    assert size_of(scan(page), reference) == pytest.approx((30.0, 22.0), abs=0.1)


def coin_on_paper(coin: float, seed: int, *, flat: float = 1.0) -> np.ndarray:
    """A coin with a raised ring, relief and a hard shadow; `flat` below 1 is seen from aside."""
    chance = np.random.default_rng(seed)
    page = paper(60.0, 95.0)
    ink(page, SQUARE)
    fine = page.shape[0] / 95.0
    radius = coin / 2 * fine

    def disc(x: float, y: float, size: float, grey: int, pen: int = -1) -> None:
        middle = round(x * fine), round(y * fine)
        cv2.ellipse(page, middle, (round(size), round(size * flat)), 0, 0, 360, grey, pen)

    disc(30.6, 25.6, radius, 150)
    disc(30.0, 25.0, radius, int(chance.integers(90, 170)))
    disc(30.0, 25.0, radius - fine, int(chance.integers(60, 200)), round(0.3 * fine))
    for _ in range(25):
        turn, way = chance.uniform(0, math.tau), chance.uniform(0, 0.4) * coin
        x, y = 30 + way * math.cos(turn), 25 + flat * way * math.sin(turn)
        disc(x, y, 1.2 * fine, int(chance.integers(50, 230)))
    return scan(page)


def rim_marks(coin: float, seed: int) -> tuple[tuple[float, float], ...]:
    """Three points that a finger put up to half a millimetre beside the rim."""
    chance = np.random.default_rng(seed)
    start = chance.uniform(0, math.tau)
    marks = []
    for turn in (start, start + 2.1, start + 4.2):
        dx, dy = chance.uniform(-0.35, 0.35, 2)
        x, y = 30 + coin / 2 * math.cos(turn) + dx, 25 + coin / 2 * math.sin(turn) + dy
        marks.append((x * PX, y * PX))
    return tuple(marks)


@pytest.mark.parametrize("seed", range(4))
def test_a_coin_marked_by_a_finger_is_found_again_in_spite_of_its_shadow(seed: int) -> None:
    coin = 24.26
    reference = Reference("coin", rim_marks(coin, seed), coin)
    grey = coin_on_paper(coin, seed)
    tracing = tidy(read(file_of(grey), "png", Asked(reference=reference)))
    assert len(tracing.lines) == 1, "the coin is no piece of the drawing"
    x0, y0, x1, y1 = tracing.lines[0].polygon.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((30.0, 22.0), abs=0.12)
    assert [finding.code for finding in tracing.findings] == ["reference-flat"]


def test_a_coin_that_looks_oval_says_that_the_photo_was_taken_from_aside() -> None:
    coin = 24.26
    reference = Reference("coin", rim_marks(coin, 1), coin)
    grey = coin_on_paper(coin, 1, flat=0.94)  # the cosine of 20 degrees
    tracing = tidy(read(file_of(grey), "png", Asked(reference=reference)))
    assert "reference-slant" in {finding.code for finding in tracing.findings}


def test_where_no_rim_is_to_be_seen_the_marked_circle_counts() -> None:
    page = paper(60.0, 95.0)
    ink(page, SQUARE)
    marked = (30.0 * PX, 30.0 * PX, 12.0 * PX)
    rim = rim_near(scan(page), marked)
    assert (rim.x, rim.y, rim.radius) == marked


def test_two_points_and_the_length_between_them_give_the_scale() -> None:
    page = paper(60.0, 95.0)
    ink(page, SQUARE)
    reference = Reference("length", ((5 * PX, 10 * PX), (5 * PX, 60 * PX)), 100.0)
    assert size_of(scan(page), reference) == pytest.approx((60.0, 44.0), abs=0.2)


@pytest.mark.parametrize(
    "reference",
    [
        Reference("length", ((10.0, 10.0),), 50.0),
        Reference("length", ((10.0, 10.0), (10.0, 10.0)), 50.0),
        Reference("length", ((10.0, 10.0), (9e9, 10.0)), 50.0),
        Reference("length", ((10.0, 10.0), (math.nan, 10.0)), 50.0),
        Reference("coin", ((10.0, 10.0), (20.0, 10.0), (30.0, 10.0)), 24.26),
        Reference("card", ((10.0, 10.0),) * 4, *CARD),
        Reference("card", ((10.0, 10.0), (20.0, 10.0)), *CARD),
    ],
)
def test_marks_that_make_no_sense_are_refused_in_words(reference: Reference) -> None:
    page = paper()
    ink(page, [(10.0, 10.0), (40.0, 10.0), (40.0, 30.0)])
    with pytest.raises(PatternError) as caught:
        read(file_of(scan(page)), "png", Asked(reference=reference))
    assert caught.value.code == "reference-odd"
