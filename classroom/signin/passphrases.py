"""Passphrases that a student can read off a card: four plain words and two digits.

The entropy is log2(words ** 4 * 90), more than 43 bits: with what `classroom/signin` lets
through nobody gets anywhere by guessing, and the stored hash is Argon2's.
"""

from __future__ import annotations

import math
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils.crypto import constant_time_compare

from classroom.erased import refuse_when_erased
from classroom.models import User, record
from classroom.refusals import Refused

from .known_devices import door_code_with, mark_of
from .passphrase_words import WORDS
from .slowing import forget_account

WORDS_IN_ONE = 4
DIGITS_FROM, DIGITS_TO = 10, 99

ALREADY_ISSUED = (
    "A new passphrase was issued in the meantime, perhaps by a second click. Nothing was changed; "
    "use the cards of the first click, or choose the students again."
)


def entropy_bits() -> float:
    """Bits of chance in one passphrase, for somebody who knows how it is made."""
    return WORDS_IN_ONE * math.log2(len(WORDS)) + math.log2(DIGITS_TO - DIGITS_FROM + 1)


def new_passphrase() -> str:
    """Such as “tide-lantern-quay-fern-42”, drawn by the system's secret chance."""
    words = [secrets.choice(WORDS) for _ in range(WORDS_IN_ONE)]
    return "-".join([*words, str(DIGITS_FROM + secrets.randbelow(DIGITS_TO - DIGITS_FROM + 1))])


@dataclass(frozen=True, slots=True)
class Card:
    """One sign-in card. The passphrase exists here and on paper, nowhere else."""

    person: User
    passphrase: str
    door_code: str


def is_marked(person: User, mark: str) -> bool:
    return constant_time_compare(mark_of(person), mark)


def issue_cards(people: Iterable[User], *, acting: User) -> list[Card]:
    """Give each person a new passphrase, all or none; ends a pause of their sign-in.

    Whoever is signed in as one of them is signed out. Raises Refused when a passphrase changed
    since `people` were read, so that two clicks do not make the first click's cards worthless.
    """
    chosen: Sequence[User] = list(people)
    if any(person.school_id != acting.school_id for person in chosen):
        raise Refused("Cards are made for people of your own school only.")
    refuse_when_erased(*chosen)
    drawn = [new_passphrase() for _ in chosen]
    # Hashing takes long on purpose; it is done before the transaction holds anybody up.
    hashes = [make_password(passphrase) for passphrase in drawn]
    with transaction.atomic():
        for person, hashed in zip(chosen, hashes, strict=True):
            same = User.objects.filter(pk=person.pk, password=person.password)
            if not same.update(password=hashed):
                raise Refused(ALREADY_ISSUED)
            record(acting, "issue-passphrase", person, f"New sign-in card for {person}")
    cards = []
    for person, passphrase, hashed in zip(chosen, drawn, hashes, strict=True):
        forget_account(person.username)
        cards.append(Card(person, passphrase, door_code_with(person, hashed)))
    return cards


@transaction.atomic
def choose_passphrase(person: User, passphrase: str) -> None:
    """Set the (validated) passphrase that a person chose for themselves."""
    person.set_password(passphrase)
    person.save(update_fields=["password"])
    record(person, "choose-passphrase", person, f"{person} chose a new passphrase")
