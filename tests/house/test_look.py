"""The look keeps its promises: readable in light and dark, nothing inline, nothing missing.

The contrast formula and its limits are from memory of WCAG 2.2 (relative luminance; 1.4.3: 4.5:1
for text; 1.4.11: 3:1 for marks, control edges and focus).
"""

from __future__ import annotations

import re
from pathlib import Path

import defusedxml.ElementTree as ElementTree
import pytest
from django.template.loader import render_to_string

HOUSE = Path(__file__).resolve().parents[2]
CSS = HOUSE / "static" / "css"
IMAGES = sorted((HOUSE / "static" / "img").glob("*.svg"))
TEMPLATES = sorted((HOUSE / "templates").rglob("*.html"))

TEXT_PAIRS = [
    (text, ground)
    for text in ("ink", "ink-2", "copper", "copper-strong", "patina", "ochre", "brick", "blue")
    for ground in ("paper", "sheet")
] + [
    ("ink", "tint"),
    ("ink-2", "tint"),
    ("ink", "copper-tint"),
    ("copper", "copper-tint"),
    ("on-copper", "copper"),
    ("on-copper", "copper-strong"),
    ("ink", "patina-tint"),
    ("ink", "ochre-tint"),
    ("ink", "brick-tint"),
    ("ink", "blue-tint"),
    ("brick", "brick-tint"),
    ("sheet", "patina"),
    ("sheet", "brick"),
    ("sheet", "ochre"),
]
MARK_PAIRS = [
    ("edge", "paper"),
    ("edge", "sheet"),
    ("edge", "tint"),
    ("blue", "copper-tint"),
    ("ink", "copper-metal"),
    ("patina", "patina-tint"),
    ("ochre", "ochre-tint"),
    ("blue", "blue-tint"),
    ("copper", "tint"),
]


def palettes() -> dict[str, dict[str, str]]:
    light, dark, *_ = re.findall(r":root \{(.*?)\n\s*\}", (CSS / "tokens.css").read_text(), re.S)
    find = re.compile(r"--([\w-]+): (#[0-9a-f]{6});")
    return {"light": dict(find.findall(light)), "dark": dict(find.findall(dark))}


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_twenty_one() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), TEXT_PAIRS)
def test_text_can_be_read_on_its_ground(scheme: str, text: str, ground: str) -> None:
    colours = palettes()[scheme]
    assert contrast(colours[text], colours[ground]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("mark", "ground"), MARK_PAIRS)
def test_marks_and_edges_stand_out_from_their_ground(scheme: str, mark: str, ground: str) -> None:
    colours = palettes()[scheme]
    assert contrast(colours[mark], colours[ground]) >= 3


def test_screen_styles_take_every_colour_from_the_palette() -> None:
    for name in ("base", "forms", "parts", "work"):
        text = (CSS / f"{name}.css").read_text()
        assert re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[;\s,)])", text) == [], name


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: p.relative_to(HOUSE).as_posix())
def test_no_template_carries_inline_script_or_style(path: Path) -> None:
    text = path.read_text()
    if path.name == "svg_defs.html":  # its rules are written in PDF pictures only
        text = re.sub(r"\{% if pdf %\}<style>.*?\{% endif %\}", "", text, flags=re.S)
    markup = re.sub(r"\{%.*?%\}", "", text, flags=re.S)  # a template tag's own words are no markup
    assert not re.search(r"<style\b|\sstyle=|\son\w+=|javascript:", markup)
    for script in re.findall(r"<script\b[^>]*>", text):
        assert "src=" in script


@pytest.mark.parametrize("path", sorted(CSS.glob("*.css")), ids=lambda p: p.name)
def test_every_picture_a_stylesheet_names_exists(path: Path) -> None:
    for url in re.findall(r'url\("?([^")]+)"?\)', path.read_text()):
        if not url.startswith("#"):
            assert (path.parent / url).resolve().is_file(), url


def test_every_hatch_a_rule_names_is_drawn() -> None:
    drawn = set(
        re.findall(r'id="(bl-[\w-]+)"', render_to_string("components/pictures/svg_defs.html"))
    )
    for name in ("drawing.css", "drawing_print.css"):
        named = set(re.findall(r"#(bl-[\w-]+)", (CSS / name).read_text()))
        assert named <= drawn


@pytest.mark.parametrize("path", IMAGES, ids=lambda p: p.name)
def test_pictures_are_plain_svg_with_a_view_box(path: Path) -> None:
    root = ElementTree.parse(path).getroot()
    assert root is not None
    assert root.get("viewBox")
    names = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert names <= {"svg", "title", "path", "circle", "rect", "g"}


def test_pictures_in_a_pdf_follow_the_same_rules_as_the_print_view() -> None:
    in_picture = render_to_string("components/pictures/svg_defs.html", {"pdf": True})
    rules = re.compile(r"[^{}\s/*][^{}]*\{[^{}]*\}")
    inside = re.search(r"<style>(.*?)</style>", in_picture, re.S)
    assert inside
    in_file = re.sub(r"/\*.*?\*/", "", (CSS / "drawing_print.css").read_text(), flags=re.S)
    assert rules.findall(inside[1]) == rules.findall(in_file)


def test_pictures_on_screen_carry_no_rules_of_their_own() -> None:
    assert "<style>" not in render_to_string("components/pictures/svg_defs.html", {"pdf": False})


def test_a_finding_says_stop_in_words() -> None:
    html = render_to_string(
        "components/pictures/finding.html",
        {"number": 3, "weight": "stop", "what": "The tail is thin", "value": "0.6 mm"},
    )
    assert "Stop:" in html
    assert 'id="finding-3"' in html


def test_a_locked_step_says_so_in_words_and_the_current_one_is_marked() -> None:
    html = render_to_string(
        "components/page/trail.html",
        {
            "steps": [
                {"label": "Drill", "state": "current"},
                {"label": "Saw", "state": "locked"},
            ]
        },
    )
    assert html.count('aria-current="step"') == 1
    assert "Not yet" in html


def test_a_drawing_point_uses_full_stops_whatever_the_language() -> None:
    html = render_to_string(
        "components/pictures/finding_point.html",
        {"number": 1, "weight": "caution", "x": 12.5, "y": 3.25, "r": 2.5},
    )
    assert "translate(12.5 3.25) scale(2.5)" in html


@pytest.mark.parametrize("name", ["404.html", "403.html", "403_csrf.html", "500.html"])
def test_refusal_pages_need_no_context_and_lead_back(name: str) -> None:
    html = render_to_string(name)
    assert "<h1" in html
    assert 'href="/"' in html


def test_no_sheet_locks_a_pages_orientation() -> None:
    """WCAG 2.2, 1.3.4: a phone may be held either way."""
    for sheet in sorted(CSS.glob("*.css")):
        locked = re.search(r"@media[^{]*orientation", sheet.read_text(encoding="utf-8"))
        assert locked is None, f"{sheet.name}: {locked}"
