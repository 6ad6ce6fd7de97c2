"""Passphrases hold against guessing, can be read aloud, and are written down nowhere."""

from __future__ import annotations

import math
import re

import pytest

from classroom.models import History, User
from classroom.refusals import Refused
from classroom.signin import passphrases
from classroom.signin.passphrase_words import WORDS
from classroom.signin.passphrases import entropy_bits, issue_cards, new_passphrase
from tests.people import Cast


def test_a_passphrase_has_at_least_forty_bits() -> None:
    assert entropy_bits() == pytest.approx(math.log2(len(set(WORDS)) ** 4 * 90))
    assert entropy_bits() >= 40


def test_a_passphrase_is_four_words_of_the_list_and_two_digits() -> None:
    for _ in range(50):
        *words, digits = new_passphrase().split("-")
        assert len(words) == 4
        assert set(words) <= set(WORDS)
        assert re.fullmatch(r"[1-9][0-9]", digits)


def test_every_word_and_number_is_as_likely_as_another(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []

    def choice(words: object) -> str:
        asked.append(words)
        return "tide"

    def below(bound: int) -> int:
        asked.append(bound)
        return bound - 1

    monkeypatch.setattr(passphrases.secrets, "choice", choice)
    monkeypatch.setattr(passphrases.secrets, "randbelow", below)
    assert new_passphrase() == "tide-tide-tide-tide-99"
    assert asked == [WORDS] * 4 + [90]


def test_words_are_plain_distinct_and_fit_the_card() -> None:
    assert len(set(WORDS)) == len(WORDS)
    assert all(re.fullmatch(r"[a-z]{3,6}", word) for word in WORDS)


def test_no_word_is_another_with_one_letter_more() -> None:
    assert not [word for word in WORDS if word[:-1] in set(WORDS)]


def test_new_cards_work_and_old_ones_stop(cast: Cast) -> None:
    first = issue_cards([cast.owner, cast.classmate], acting=cast.teacher)
    for card in first:
        assert User.objects.get(pk=card.person.pk).check_password(card.passphrase)
    second = issue_cards([User.objects.get(pk=cast.owner.pk)], acting=cast.teacher)
    wren = User.objects.get(pk=cast.owner.pk)
    assert wren.check_password(second[0].passphrase)
    assert not wren.check_password(first[0].passphrase)


def test_the_plain_passphrase_is_stored_nowhere(cast: Cast) -> None:
    card = issue_cards([cast.owner], acting=cast.teacher)[0]
    rows = [str(row) for row in User.objects.values()] + [str(r) for r in History.objects.values()]
    assert len(rows) > 6
    assert not [row for row in rows if card.passphrase in row]


def test_when_somebody_was_first_no_card_at_all_is_issued(cast: Cast) -> None:
    late = [User.objects.get(pk=cast.classmate.pk), User.objects.get(pk=cast.owner.pk)]
    issued = issue_cards([cast.owner], acting=cast.teacher)[0]
    with pytest.raises(Refused, match="first click"):
        issue_cards(late, acting=cast.teacher)
    assert User.objects.get(pk=cast.owner.pk).check_password(issued.passphrase)
    assert User.objects.get(pk=cast.classmate.pk).password == cast.classmate.password


def test_cards_for_another_school_are_refused(cast: Cast) -> None:
    with pytest.raises(Refused, match="your own school"):
        issue_cards([cast.outside_student], acting=cast.teacher)
