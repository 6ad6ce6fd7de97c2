"""Recipes to begin with: each is whole, lawful under usual limits, and meant to be changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from .recipe import VERSION, Recipe


@dataclass(frozen=True, slots=True)
class Example:
    name: str
    title: str
    teaches: str
    recipe: Recipe


def _recipe(*steps: dict[str, Any]) -> Recipe:
    numbered = [{"id": str(place), **step} for place, step in enumerate(steps, start=1)]
    return Recipe.from_json({"version": VERSION, "steps": numbered})


EXAMPLES: Final = (
    Example(
        "tide-pendant",
        "Tide pendant",
        "A disc, a crescent cut away, and a drill mark that finds its own place.",
        _recipe(
            {"kind": "circle", "name": "Disc", "diameter": 36},
            {
                "kind": "crescent",
                "role": "window",
                "diameter": 24,
                "bite": 22,
                "shift": 7,
                "turn": -60,
                "y": -1,
                "round_out": 0.6,
            },
            {"kind": "hole", "diameter": 1.6, "found": "edge", "direction": 90},
        ),
    ),
    Example(
        "ring-of-drops",
        "Ring of drops",
        "One drop, cut away eight times around the middle.",
        _recipe(
            {"kind": "circle", "name": "Disc", "diameter": 42},
            {
                "kind": "drop",
                "role": "window",
                "width": 5,
                "length": 9,
                "y": 11.5,
                "round_out": 0.5,
                "copies": "around",
                "count": 8,
            },
            {"kind": "circle", "name": "Middle", "role": "window", "diameter": 7},
            {"kind": "hole", "diameter": 1.2, "found": "edge", "direction": 67.5},
        ),
    ),
    Example(
        "initials-tag",
        "Initials tag",
        "Letters cut away; bridges hold the middles of letters like A and O.",
        _recipe(
            {"kind": "rectangle", "name": "Tag", "width": 46, "height": 26, "corner": 6},
            {
                "kind": "letters",
                "text": "AO",
                "role": "window",
                "height": 16,
                "bridge": 2,
                "spacing": 22,
                "x": 3,
                "round_out": 0.5,
            },
            {"kind": "hole", "diameter": 2.0, "found": "edge", "direction": 180},
        ),
    ),
    Example(
        "star-frame",
        "Star frame",
        "A star with round corners, made into a frame.",
        _recipe(
            {"kind": "star", "name": "Star", "points": 6, "diameter": 46, "inner": 66},
            {"kind": "all-round", "round_out": 2.5, "round_in": 3},
            {"kind": "all-frame", "frame": 6},
            {"kind": "all-round", "round_in": 1},
            {"kind": "hole", "diameter": 1.6, "found": "edge", "direction": 90},
        ),
    ),
    Example(
        "tile-set",
        "Six tiles",
        "Twisted squares that share their edges: one saw line makes two sides.",
        _recipe(
            {
                "kind": "tiling",
                "tile": "twists",
                "within": "count",
                "side": 16,
                "columns": 3,
                "rows": 2,
            },
        ),
    ),
)
