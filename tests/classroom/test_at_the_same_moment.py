"""Several people, or one impatient one, click at the same moment: one deed, no half ones."""

from __future__ import annotations

import pytest

from .race import AT_ONCE, run

ONE_OF_THEM = {"done": 1, "refused": AT_ONCE - 1}


@pytest.mark.django_db(transaction=True)
def test_of_six_clicks_at_once_one_counts() -> None:
    assert run() == {
        "first run": ONE_OF_THEM,
        "class list": ONE_OF_THEM,
        "cards": ONE_OF_THEM,
        "questions": {"done": AT_ONCE},  # each gets the one attempt
        "permit": {"done": AT_ONCE},  # each gets the one permit
        "withdrawal": ONE_OF_THEM,
        "rows": {"schools": 1, "people": 3, "seats": 2, "attempts": 1, "permits": 1},
    }
