"""One word for one thing: words that were given up come back in no text that people read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from classroom.catalogs import po_of, read_po

ROOT = Path(__file__).resolve().parents[2]

OUT = {
    r"saw cuts? and scrap|scrap and saw cuts?": "waste, which is kerf and scrap",
    r"blade.s width": "kerf",
    r"consumables?": "supplies",
    r"engraved lines?|lines? on the surface": "surface line",
    r"straight and clean|clean and straight|edges?( that are)? not clean": "clean edge, rough edge",
    r"bench of|class at the bench|class.s bench": "Class bench, which is a page",
    r"place (them|these pieces|pieces) together|place pieces": "New cut plan, page and button",
    r"make a cut plan|new plan": "New cut plan",
    r"to be approved": "proposed",
    r"diary": "what happened",
    r"large leftovers?": "offcut",
    r"to be reviewed|review (it|them|the pattern)": "a pattern is looked at; costs are reviewed",
    r"returned by|returned (this |the )?pattern": "a pattern is handed back; metal is returned",
    r"set (it|this|a rule|this topic) aside|topic is set aside": "money is set aside; a rule is "
    "lifted, a topic is out of use, a version is kept beside",
    r"print every tile|tile \S+ of": "a large print has panels; tiles are shapes of a pattern",
}
"""What is out, as a pattern, and what is said instead."""
KEPT = {
    "texts and diary rows that named them": "stands in records of erasures made before",
    "Your share of the saw cuts and scrap": "stands on prices frozen before",
    "to be made and approved": "of a plan that is not there yet",
}
"""Texts that stay, each with its reason."""
NOT_SAID = re.compile(
    r"\{#.*?#\}|\{% comment .*?endcomment %\}|\{% (?:url|if|elif|for|load|extends)\b.*?%\}"
    r"|\{% include \"[^\"]*\"|\b(?:class|id|href|action|data-figure)=\"[^\"]*\""
    r"|\b\w+=[\w.|]+|\b\w+(?:\.\w+)+",
    re.DOTALL,
)
"""Comments, tags that decide, addresses, and names of the code."""
FORGOTTEN = {one: re.compile(rf"\b(?:{one})\b", re.IGNORECASE) for one in OUT}


def words_out(text: str) -> list[str]:
    """For each given-up word in the text: the word, and what is said instead."""
    for kept in KEPT:
        text = text.replace(kept, "")
    text = " ".join(NOT_SAID.sub(" ", text).split())
    return [
        f"“{found[0]}”: {OUT[one]}"
        for one, word in FORGOTTEN.items()
        if (found := word.search(text))
    ]


def test_no_template_says_a_word_that_is_out() -> None:
    found = {
        str(path.relative_to(ROOT)): out
        for path in sorted((ROOT / "templates").rglob("*.html"))
        if (out := words_out(path.read_text(encoding="utf-8")))
    }
    assert found == {}


def test_no_text_of_the_catalogue_says_a_word_that_is_out() -> None:
    entries = read_po(po_of("es").read_text(encoding="utf-8"))
    assert {text: out for text in entries if (out := words_out(text))} == {}


@pytest.mark.parametrize(
    "text",
    [
        "<p>12.00 for consumables</p>",
        "An engraved\n   line is never sawn.",
        "{% translate 'Bench of Metals 1' %}",
        "<h2>The diary</h2>",
        "Large leftovers go to the rack.",
    ],
)
def test_a_word_that_is_out_is_seen(text: str) -> None:
    assert words_out(text)


def test_names_that_nobody_reads_are_free() -> None:
    assert not words_out(
        '{% include "diary.html" with entries=diary %}<td>{# diary #}{{ sums.consumables }}</td>'
    )
