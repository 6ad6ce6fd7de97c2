"""Students who share a picture can be told apart, by colour, and without any.

Contrast is WCAG 2.2's (relative luminance, 1.4.11: 3:1 for what is needed to understand a
picture; from memory). Colours as seen without one kind of cones are those of the matrices of
Machado, Oliveira & Fernandes, "A physiologically-based model for simulation of color vision
deficiency" (2009), severity 1.0, in linear RGB. Distances are CIE 1976 ΔE in L*a*b* (D65);
2.3 is just noticeable (Mahy et al. 1994; from memory).
"""

from __future__ import annotations

import math
import re
from itertools import combinations, pairwise
from pathlib import Path

import pytest

from studio.core.cutting import Job, Wanted
from studio.core.picturing.colours import COLOURS, PATTERNS, mark_of, marks_of
from studio.core.picturing.labels import letters_of, number_of
from tests.core.placing.jobs import sheet, square

CSS = Path(__file__).resolve().parents[2] / "static" / "css"
INK, METAL, WHITE = "#000000", "#fbf1e7", "#ffffff"
MOST_STUDENTS = 40
NOTICED = 2.3

Triple = tuple[float, float, float]
EYES: dict[str, tuple[Triple, Triple, Triple]] = {
    "all cones": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def linear(colour: str) -> list[float]:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    return [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]


def contrast(one: str, other: str) -> float:
    bright = []
    for colour in (one, other):
        r, g, b = linear(colour)
        bright.append(0.2126 * r + 0.7152 * g + 0.0722 * b)
    low, high = sorted(bright)
    return (high + 0.05) / (low + 0.05)


def seen(colour: str, eyes: str) -> Triple:
    """L*, a*, b* of a colour as these eyes see it."""
    rgb = linear(colour)
    r, g, b = (
        min(1.0, max(0.0, sum(k * c for k, c in zip(row, rgb, strict=True)))) for row in EYES[eyes]
    )
    x = (0.4124564 * r + 0.3575761 * g + 0.1804375 * b) / 0.95047
    y = 0.2126729 * r + 0.7151522 * g + 0.0721750 * b
    z = (0.0193339 * r + 0.1191920 * g + 0.9503041 * b) / 1.08883
    fx, fy, fz = (
        t ** (1 / 3) if t > 216 / 24389 else (24389 / 27 * t + 16) / 116 for t in (x, y, z)
    )
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


def test_without_the_right_cones_red_and_green_come_near_each_other() -> None:
    """The eyes of the tests do not see what ours do."""
    red, green = "#d00000", "#5a7a00"
    apart = {eyes: math.dist(seen(red, eyes), seen(green, eyes)) for eyes in EYES}
    assert apart["deuteranopia"] < apart["all cones"] / 3


@pytest.mark.parametrize("colour", COLOURS)
def test_lines_of_patterns_can_be_seen_on_every_colour(colour: str) -> None:
    assert contrast(INK, colour) >= 3


def test_outlines_can_be_seen_on_metal_and_paper() -> None:
    assert contrast(INK, METAL) >= 3
    assert contrast(INK, WHITE) >= 3


@pytest.mark.parametrize("eyes", EYES)
def test_neighbours_by_letter_are_far_apart_for_all_eyes(eyes: str) -> None:
    for one, other in pairwise((*COLOURS, COLOURS[0])):
        assert math.dist(seen(one, eyes), seen(other, eyes)) > 15 * NOTICED


@pytest.mark.parametrize("eyes", EYES)
def test_no_two_colours_are_alike_for_any_eyes(eyes: str) -> None:
    for one, other in combinations(COLOURS, 2):
        assert math.dist(seen(one, eyes), seen(other, eyes)) > 6 * NOTICED


def test_forty_students_all_differ_and_nine_in_a_row_without_colours() -> None:
    marks = [mark_of(letters_of(number)) for number in range(MOST_STUDENTS)]
    assert len({(mark.colour, mark.pattern) for mark in marks}) == MOST_STUDENTS
    for first in range(MOST_STUDENTS - len(PATTERNS) + 1):
        row = marks[first : first + len(PATTERNS)]
        assert len({mark.pattern for mark in row}) == len(PATTERNS)


@pytest.mark.parametrize(("number", "letters"), [(0, "A"), (25, "Z"), (26, "AA"), (39, "AN")])
def test_letters_count_on_after_z(number: int, letters: str) -> None:
    assert letters_of(number) == letters
    assert number_of(letters) == number


@pytest.mark.parametrize("word", ["", "a", "A1", "Ä"])
def test_what_is_no_letter_has_no_mark(word: str) -> None:
    with pytest.raises(ValueError, match="no letter"):
        mark_of(word)


def test_one_student_alone_needs_no_mark() -> None:
    alone = Job(
        (sheet(),), (Wanted("a", square(9), group="p1"), Wanted("b", square(9), group="p1"))
    )
    assert marks_of(alone) == {}
    two = Job((sheet(),), (Wanted("a", square(9), group="p1"), Wanted("b", square(9), group="p2")))
    assert {group: mark.letter for group, mark in marks_of(two).items()} == {"p1": "A", "p2": "B"}


def test_stylesheets_say_the_same_colours() -> None:
    tokens = (CSS / "tokens.css").read_text()
    printed = (CSS / "drawing_print.css").read_text()
    for number, colour in enumerate(COLOURS, start=1):
        assert re.findall(rf"--hue-{number}: (#\w+);", tokens) == [colour]
        assert f".hue-{number}{{fill:{colour}}}" in printed
    for number in range(1, len(PATTERNS) + 1):
        assert f".weave-{number}{{" in printed
        assert f".weave-{number} {{" in (CSS / "drawing.css").read_text()
