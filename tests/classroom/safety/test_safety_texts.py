"""The safety texts that a school starts with."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from classroom.safety.texts import (
    CLASS_CHECKLIST,
    DEFERRAL,
    HURT_NOTE,
    PREPARATION_CHECKLIST,
    RECORD_NOTE,
    SIGNATURE_NOTE,
    TOPIC_CODES,
    TOPICS,
    Answer,
    topic,
)


def all_texts() -> Iterator[str]:
    yield from (DEFERRAL, HURT_NOTE, RECORD_NOTE, SIGNATURE_NOTE)
    for line in (*CLASS_CHECKLIST, *PREPARATION_CHECKLIST):
        yield line.text
    for one in TOPICS:
        yield from (one.title, one.why, *one.lessons)
        yield from (line.text for line in one.practical_check)


def test_all_topics_are_there_and_teach_and_check_something() -> None:
    assert set(TOPIC_CODES) == {
        "saw-frame",
        "drill-press",
        "hand-shears",
        "foot-guillotine",
        "abrasives-dust",
        "adhesives-solvents",
        "hot-water-soak",
        "files-sharp-edges",
    }
    for one in TOPICS:
        assert len(one.lessons) >= 4
        assert len(one.practical_check) >= 3
        assert topic(one.code) is one


def test_codes_of_checklist_lines_are_unique() -> None:
    lines = [*CLASS_CHECKLIST, *PREPARATION_CHECKLIST]
    lines += [line for one in TOPICS for line in one.practical_check]
    assert len({line.code for line in lines}) == len(lines)


def test_answers_are_the_four_of_the_school_checklist_programme() -> None:
    # DHHS (NIOSH) 2004-101: Y, N, N/A and ??.
    assert [str(answer) for answer in Answer] == ["Y", "N", "N/A", "??"]
    assert [answer for answer in Answer if answer.needs_action] == [Answer.NO, Answer.UNKNOWN]
    assert Answer.UNKNOWN.words == "don't know"


def test_nothing_is_claimed_safe_or_in_keeping_with_a_law() -> None:
    for text in all_texts():
        assert not re.search(r"\b(safe|safely|compliant|compliance|approved by)\b", text), text


@pytest.mark.parametrize(
    "authority", ["Local code", "school's policy", "equipment manual", "safety data sheet"]
)
def test_deferral_names_every_authority_that_comes_first(authority: str) -> None:
    assert authority in DEFERRAL


def test_lines_are_short_enough_for_a_printed_list() -> None:
    assert max(len(text) for text in all_texts()) <= 170
