"""A school words its steps in its own language and in others; who signs sees what they read."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from classroom.refusals import Refused
from studio.core.bench.planned import SchoolWords
from studio.core.bench.texts import BenchStepKind
from studio.models import StepWording
from studio.steps.bench.wording import house_words, missing_kinds, reword, school_words, stale_kinds

from .making import World, step_of

SAW = BenchStepKind.SAW
ENGLISH = ("Look at the plan.", "Saw slowly.")
SPANISH = ("Mira el plan.", "Sierra despacio.")


def words(world: World, *do: str, language: str = "", seen: int = 0, **more: Any) -> SchoolWords:
    return reword(
        world.cast.school,
        SAW,
        do=do,
        right_when=("-",),
        mistakes=(),
        seen=seen,
        acting=world.cast.teacher,
        language=language,
        **more,
    )


def shown(world: World, language: str) -> SchoolWords | None:
    return school_words(world.cast.school, language).get(SAW)


def said_in(world: World, language: str) -> tuple[str, ...] | None:
    found = shown(world, language)
    return found.do if found else None


def test_each_language_has_its_own_words_and_versions(world: World) -> None:
    words(world, *ENGLISH)
    assert words(world, *SPANISH, language="es").version == 1
    assert (said_in(world, "en"), said_in(world, "es")) == (ENGLISH, SPANISH)
    assert stale_kinds(world.cast.school, "es") == missing_kinds(world.cast.school, "es") == set()


def test_a_step_is_frozen_in_the_words_of_each_language(world: World) -> None:
    words(world, *ENGLISH)
    words(world, *SPANISH, language="es")
    step = step_of(world.at_bench(), "saw")
    english, spanish = step.words_in("en"), step.words_in("es")
    assert (english["do"][0], spanish["do"][0]) == (ENGLISH[0], SPANISH[0])
    assert (english["own_words_in"], spanish["own_words_in"]) == ("en", "es")
    assert step.sha_in("en") != step.sha_in("es")


def test_without_words_of_its_own_a_language_shows_the_schools(world: World) -> None:
    words(world, *ENGLISH)
    assert said_in(world, "es") == ENGLISH
    assert missing_kinds(world.cast.school, "es") == {SAW}


def test_words_that_say_an_older_version_are_passed_over_until_they_are_kept_again(
    world: World,
) -> None:
    words(world, *ENGLISH)
    words(world, *SPANISH, language="es")
    words(world, "Put on eye protection.", seen=1)
    assert said_in(world, "es") == ("Put on eye protection.",)
    assert stale_kinds(world.cast.school, "es") == {SAW}
    assert words(world, *SPANISH, language="es", seen=1, seen_own=2).version == 2
    assert said_in(world, "es") == SPANISH
    assert stale_kinds(world.cast.school, "es") == set()


def test_words_written_beside_an_older_version_are_refused(world: World) -> None:
    words(world, *ENGLISH)
    words(world, "Newer.", seen=1)
    with pytest.raises(Refused, match="Somebody else has reworded"):
        words(world, *SPANISH, language="es", seen_own=1)


def test_after_the_first_words_other_languages_show_theirs_too(world: World) -> None:
    words(world, *ENGLISH)
    house = house_words(SAW, "en")
    reword(
        world.cast.school,
        SAW,
        do=house.do,
        right_when=house.right_when,
        mistakes=house.mistakes,
        seen=1,
        acting=world.cast.teacher,
    )
    assert shown(world, "es") is None  # our own Spanish, and not the English of version 2
    assert shown(world, "en") is None


def test_the_page_edits_the_language_in_which_it_is_shown(world: World) -> None:
    words(world, *ENGLISH)
    teacher = Client()
    teacher.force_login(world.cast.teacher)
    url = reverse("step_words_edit", args=["saw"]) + "?lang=es"
    page = teacher.get(url).content.decode()
    assert "Look at the plan." in page  # the school's own words beside the form
    assert "solo en English" in page
    said = {"do": "Mira.", "right_when": "Bien.", "seen": "0", "seen_own": "1", "lang": "es"}
    page = teacher.post(url, said, follow=True).content.decode()
    assert '<html lang="es"' in page
    made = StepWording.objects.get(language="es")
    assert (made.do, made.version, made.says_version) == (["Mira."], 1, 1)
    assert said_in(world, "en") == ENGLISH
