"""What a parted stock piece cost is in its blanks and leftovers, to the cent."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.pricing.part_costs import part_costs

areas = st.lists(st.decimals("0.01", 20_000, places=2), max_size=6)


def test_leftovers_pay_by_area_and_blanks_all_the_rest() -> None:
    # By hand: 24.00 for 9600 mm²; 2400 mm² left are 6.00; 100 mm² were kerf, which the blanks
    # bear, so 18.00 go to 4733.33 and 2366.67 mm², two to one.
    left, own = part_costs(
        Decimal(24), Decimal(9600), [Decimal(2400)], [Decimal("4733.33"), Decimal("2366.67")]
    )
    assert left == [Decimal("6.00")]
    assert own == [Decimal("12.00"), Decimal("6.00")]


@given(
    cost=st.decimals(0, 999, places=2),
    kerf=st.decimals(0, 500, places=2),
    leftovers=areas,
    blanks=areas.filter(bool),
)
def test_no_cent_is_lost_or_made(
    cost: Decimal, kerf: Decimal, leftovers: list[Decimal], blanks: list[Decimal]
) -> None:
    area = kerf + sum(leftovers) + sum(blanks)
    left, own = part_costs(cost, area, leftovers, blanks)
    assert sum(left) + sum(own) == cost
    assert min([*left, *own]) >= 0
    for share, one in zip(left, leftovers, strict=True):
        assert abs(share - cost * one / area) < Decimal("0.01")


def test_parting_is_for_somebodys_blank() -> None:
    with pytest.raises(ValueError, match="blank"):
        part_costs(Decimal(24), Decimal(9600), [Decimal(2400)], [])
