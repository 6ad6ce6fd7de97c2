"""An area that a union lost in silence is money, metal or a picture that is wrong."""

from __future__ import annotations

import ast
from pathlib import Path

from django.conf import settings

ROOT = Path(settings.BASE_DIR)
HOME = "studio/core/areas.py"
OPERATIONS = {
    "union",
    "union_all",
    "unary_union",
    "cascaded_union",
    "disjoint_subset_union",
    "disjoint_subset_union_all",
    "coverage_union",
    "coverage_union_all",
    "difference",
    "symmetric_difference",
    "symmetric_difference_all",
}
LINES = "lines: they have no area that could be lost"
GUESS = "a guess where to look; what is found is tried against the whole afterwards"
TRIAL = "makes shapes for trials by chance: whatever comes out is the shape"
ELSEWHERE = {
    "inventory/rack/edges.py": LINES,
    "studio/core/building/letters.py": LINES,
    "studio/core/building/tilings.py": LINES,
    "studio/core/cutting/by_hand.py": LINES,
    "studio/core/laying_out/metal.py": LINES,
    "studio/core/picturing/edges.py": LINES,
    "studio/core/picturing/sawing_order.py": LINES,
    "studio/core/placing/laying/reach.py": GUESS,
    "studio/core/placing/laying/sheets.py": GUESS,
    "studio/core/placing/parting/parts.py": LINES,
    "studio/core/placing/rooms.py": LINES,
    "studio/core/placing/separating/flat.py": GUESS,
    "studio/core/placing/spacing.py": LINES,
    "studio/core/placing/trials/hostile.py": TRIAL,
    "studio/core/placing/trials/hostile_hands.py": TRIAL,
    "studio/core/placing/trials/hostile_parted.py": TRIAL,
    "studio/core/placing/trials/samples.py": TRIAL,
    "studio/core/reading/joining/loose_lines.py": LINES,
    "studio/core/reading/proving/metal_photos.py": TRIAL,
    "studio/core/reading/proving/truth.py": TRIAL,
    "studio/core/verifying/cuts.py": LINES,
    "studio/core/verifying/parted/tree.py": LINES,
}


def _operations_in(text: str) -> list[str]:
    """What a file asks the geometry itself to unite or take away, by line."""
    found = []
    tree = ast.parse(text)
    called = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in OPERATIONS:
            # a sum of money has a difference, too, which is not called
            if node.attr == "difference" and id(node) not in called:
                continue
            found.append(f"{node.lineno}: {node.attr}")
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("shapely"):
            found += [f"{node.lineno}: {one.name}" for one in node.names if one.name in OPERATIONS]
    return found


def test_areas_are_united_and_taken_away_where_none_is_lost() -> None:
    found = {
        name: operations
        for app in ("classroom", "inventory", "studio")
        for source in (ROOT / app).rglob("*.py")
        for name in [source.relative_to(ROOT).as_posix()]
        for text in [source.read_text(encoding="utf-8")]
        if "shapely" in text or ".union" in text or ".difference(" in text  # few are parsed
        for operations in [_operations_in(text)]
        if operations and name != HOME
    }
    assert {name: each for name, each in found.items() if name not in ELSEWHERE} == {}
    assert sorted(found) == sorted(ELSEWHERE), "an exception that is none any more"


def test_a_union_of_ones_own_is_seen() -> None:
    for text in (
        "whole = shapely.union_all(parts)",
        "left = metal.difference(gone)",
        "from shapely.ops import unary_union",
        "from shapely import union_all as whole",
        "reduce(Polygon.union, parts)",
    ):
        assert len(_operations_in(text)) == 1, text
