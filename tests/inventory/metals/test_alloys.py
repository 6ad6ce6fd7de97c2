"""What the alloy table tells a teacher and a student."""

from __future__ import annotations

import pytest

from inventory import metals


def test_codes_are_unique_and_unknown_ones_are_refused_with_a_choice() -> None:
    assert len(set(metals.ALLOY_CODES)) == len(metals.ALLOYS)
    with pytest.raises(metals.UnknownMetalError, match="C11000"):
        metals.alloy("C99999")


@pytest.mark.parametrize("one", metals.ALLOYS, ids=lambda one: one.code)
def test_melting_range_and_density_are_in_order(one: metals.Alloy) -> None:
    solidus, liquidus = one.melting_c
    assert 500 < solidus <= liquidus < 1200
    assert 2.5 < float(one.density_g_cm3) < 11


def test_every_alloy_with_zinc_warns_about_its_fume() -> None:
    for one in metals.ALLOYS:
        warns = any("zinc fume" in text for text in one.cautions_about(metals.CautionKind.HEAT))
        assert warns == (one.zinc_share > 0), one.code


def test_nickel_silver_is_not_for_ear_posts_and_holds_no_silver() -> None:
    nickel_silver = metals.alloy("C75200")
    wear = " ".join(nickel_silver.cautions_about(metals.CautionKind.WEAR))
    assert "about 18 % nickel" in wear
    assert "not for ear posts" in wear
    assert nickel_silver.colour is not metals.ColourFamily.SILVER
    assert "never label a piece of it silver" in " ".join(
        nickel_silver.cautions_about(metals.CautionKind.WORDS)
    )


def test_leaded_brass_is_the_one_alloy_not_for_wearing() -> None:
    assert [one.code for one in metals.ALLOYS if not one.for_wearing] == ["C36000"]
    assert "not for anything that is worn" in " ".join(
        metals.alloy("C36000").cautions_about(metals.CautionKind.WEAR)
    )


def test_brass_that_may_hold_more_lead_than_children_s_jewellery_says_so() -> None:
    # Children's products: 100 ppm (15 USC 1278a). C26000: Pb up to 0.07 % = 700 ppm (data sheet).
    assert metals.alloy("C26000").lead_ppm_most == 700
    for one in metals.ALLOYS:
        if one.lead_ppm_most is not None and one.lead_ppm_most > 100:
            wear = " ".join(one.cautions_about(metals.CautionKind.WEAR))
            assert "lead" in wear, one.code


def test_aluminium_dust_is_cautioned_and_silver_scrap_kept_apart() -> None:
    for code in ("A91100", "A96061"):
        dust = " ".join(metals.alloy(code).cautions_about(metals.CautionKind.DUST))
        assert "can burn" in dust
    assert metals.alloy("AG925").precious
