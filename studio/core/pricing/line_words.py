"""How is a line of a quote worded, in any language, from what was stored about it?

A consumable's line keeps its name and how much of it was reckoned; a line without such facts
(metal, and quotes of earlier days) keeps its English words, which are looked up as they stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from inventory.metals import ENGLISH, Say


def line_words(text: str, facts: Mapping[str, Any], say: Say = ENGLISH) -> str:
    """The words of one line. `facts` has `name`, `per` and `count` (whole), or is empty."""
    if not facts:
        return say(text)
    name, count = str(facts["name"]), int(facts["count"])
    match facts["per"]:
        case "cm_sawn":
            words = say("%(name)s, %(count)s cm of sawing")
        case "cm2":
            words = say("%(name)s, %(count)s cm²")
        case "hole":
            words = say.count_of("%(name)s, %(count)s hole", "%(name)s, %(count)s holes", count)
        case _:
            words = say("%(name)s, for the project")
    return words % {"name": name, "count": count}


def translated_texts() -> set[str]:
    """What lines without facts say."""
    return {
        "Metal in your pieces",
        "Rectangles around your pieces",
        "Your share of the waste (kerf and scrap)",
        "Your share of the saw cuts and scrap",  # on quotes frozen before "waste" was its name
    }
