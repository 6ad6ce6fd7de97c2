"""The page's own module does as the server does: its figures are the server's.

That it comes to the same with them is shown in `tests/browser/patterns`.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from studio.core.correcting import applying, changes_json
from studio.core.drawing import FLATTENING_TOLERANCE_MM
from studio.core.reading import bounds
from studio.core.reading.joining import rounds

SCRIPTS = Path(__file__).resolve().parents[3] / "static" / "js" / "correcting"
NUMBER = r"-?\d[\d.]*(?:e-?\d+)?"

SAME = {
    "changes.js": {
        "WELD_MM": applying.WELD_MM,
        "FAR_MM": changes_json.FAR_MM,
        "LEAST_HOLE_MM": changes_json.LEAST_HOLE_MM,
        "MOST_CIRCLE_MM": changes_json.MOST_CIRCLE_MM,
        "MOST_REACH_MM": changes_json.MOST_REACH_MM,
        "MOST_LINES": bounds.MAX_LINES,
        "MOST_LINE_POINTS": changes_json.MAX_LINE_POINTS,
        "MOST_POINTS": applying._MAX_ALL_POINTS,
    },
    "lines.js": {
        "TOLERANCE_MM": FLATTENING_TOLERANCE_MM,
        "SAME_POINT_MM": bounds.SAME_POINT_MM / 10,
        "SPECK_MM": bounds.SPECK_MM,
        "MAX_SIZE_MM": bounds.MAX_SIZE_MM,
        "NO_AREA": applying._NO_AREA,
        "PLACES": applying._DECIMALS,
        "leastCorners": rounds._LEAST_CORNERS,
        "slackMm": rounds.ROUND_SLACK_MM,
        "slackShare": 2 * rounds.ROUND_SLACK_SHARE,
        "mostShare": rounds.MOST_UNEVEN_SHARE,
    },
}


def figures(script: str) -> dict[str, float]:
    """Constants of a script that are plain numbers, those of an object on one line too."""
    text = (SCRIPTS / script).read_text(encoding="utf-8")
    found = re.findall(rf"^const (\w+) = ({NUMBER});", text, re.M)
    for inside in re.findall(r"^const \w+ = \{(.*)\};", text, re.M):
        found += re.findall(rf"(\w+): ({NUMBER})", inside)
    return {name: float(value) for name, value in found}


@pytest.mark.parametrize("script", SAME)
def test_the_script_has_the_servers_figures(script: str) -> None:
    assert figures(script) == pytest.approx(SAME[script], rel=1e-12)
