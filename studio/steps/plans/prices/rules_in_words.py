"""Who pays for what of a plan: the rule in words, as students and teachers read it."""

from __future__ import annotations

from studio.core.pricing import shares as pricing

SHARING_RULE = (
    "You pay for the metal in your pieces. The waste is shared by all projects on the plan in "
    "proportion to the area of their pieces, whichever stock piece they lie on: nobody chose "
    "that. Waste is kerf (the width of the saw cut) and scrap (too small to use again). What goes "
    "back to the rack costs nobody. Blades, drills, abrasive and adhesive are paid by how much "
    "you saw, drill and prepare. Cents are handed out so that all quotes together are exactly "
    "what the plan costs."
)
SHARING_RULES = {
    pricing.WasteRule.SHARED: SHARING_RULE,
    pricing.WasteRule.SCHOOL: (
        "You pay for the metal in your pieces only. The waste is borne by the course: kerf (the "
        "width of the saw cut) and scrap (too small to use again). Blades, drills, abrasive and "
        "adhesive are paid by how much you saw, drill and prepare."
    ),
    pricing.WasteRule.RECTANGLE: (
        "You pay for the upright rectangle around each of your pieces as drawn, "
        f"{pricing.RECTANGLE_ALLOWANCE_MM:.0f} mm longer on both sides. What the metal costs "
        "beyond that, or less, is the course's. Blades, drills, abrasive and adhesive are paid by "
        "how much you saw, drill and prepare."
    ),
}
OWN_BLANK = (
    "The metal is parted first, so you pay for your own blank: it bears its share of what parting "
    "takes, by its area, and what is left over goes back to the rack at once and costs nobody. "
)
BLANK_RULES = {
    pricing.WasteRule.SHARED: (
        OWN_BLANK
        + "Of your blank you pay for all that does not come back to the rack, pieces and waste. "
        "Blades, drills, abrasive and adhesive are paid by how much you saw, drill and prepare."
    ),
    pricing.WasteRule.SCHOOL: (
        OWN_BLANK
        + "Of your blank you pay for the metal in your pieces only. What else does not come back "
        "to the rack is borne by the course. Blades, drills, abrasive and adhesive are paid by "
        "how much you saw, drill and prepare."
    ),
    pricing.WasteRule.RECTANGLE: (
        OWN_BLANK
        + "Of your blank you pay for the upright rectangle around each of your pieces as drawn, "
        f"{pricing.RECTANGLE_ALLOWANCE_MM:.0f} mm longer on both sides. What else does not come "
        "back to the rack, or less, is the course's. Blades, drills, abrasive and adhesive are "
        "paid by how much you saw, drill and prepare."
    ),
}
"""Where everybody has a blank: the sentences stand as a whole, so that they translate as one."""


def rule_in_words(rule: pricing.WasteRule, *, own_blank: bool) -> str:
    """The English sentences of the rule by which a plan is priced."""
    return (BLANK_RULES if own_blank else SHARING_RULES)[rule]


def translated_texts() -> set[str]:
    """The rules of sharing, for the catalogues of other languages."""
    return set(SHARING_RULES.values()) | set(BLANK_RULES.values())
