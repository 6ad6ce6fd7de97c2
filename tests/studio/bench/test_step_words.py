"""The school words its steps: in versions, for metal handed out from then on, and for no other."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from classroom.models import HistoryIsKept
from classroom.refusals import Refused
from studio.core.bench.planned import PlannedBenchStep, wording_sha
from studio.core.bench.texts import TEXTS, BenchStepKind, Mistake
from studio.models import BenchStep, SignOff, StepWording
from studio.steps.bench.sign import start_step
from studio.steps.bench.wording import house_words, reword, school_words, words_now
from tests.people import signed_in

from .making import World, do_step, give_permits, step_of

SAW = BenchStepKind.SAW


def said(world: World, *do: str, seen: int = 0, **more: Any) -> Any:
    words: dict[str, Any] = {
        "do": do or ("Look at the plan.", "Saw slowly."),
        "right_when": ("The line can be seen.",),
        "mistakes": (Mistake("It snaps", "You push.", "Push less."),),
    }
    words |= more
    return reword(world.cast.school, SAW, seen=seen, acting=world.cast.teacher, **words)


def posted(**changes: str) -> dict[str, str]:
    return {
        "do": "Look at the plan.\r\nSaw slowly.",
        "right_when": "The line can be seen.",
        "mistakes": "It snaps | You push. | Push less.",
        "seen": "0",
    } | changes


def test_metal_handed_out_from_now_on_takes_the_newest_words(world: World) -> None:
    earlier = world.at_bench()
    said(world)
    said(world, "Look at the plan twice.", seen=1)
    later = world.project(world.cast.classmate_seat)
    world.issued(later, sheets=world.sheets[1:2])
    before, after = step_of(earlier, "saw"), step_of(later, "saw")
    assert "String the blade" in before.wording["do"][0]
    assert before.wording["wording_version"] == "2026-12"
    assert after.wording["do"][0] == "Look at the plan twice."
    assert "Saw the window first" in after.wording["do"][1]  # of this drawing, added by itself
    assert after.wording["usual_mistakes"] == [["It snaps", "You push.", "Push less."]]
    assert after.wording["wording_version"] == "school 2, 2026-12"
    assert after.wording["cautions"] == before.wording["cautions"]
    assert (
        wording_sha(PlannedBenchStep.from_json(after.wording))
        == after.wording_sha
        != before.wording_sha
    )


def test_what_was_signed_keeps_the_words_that_were_signed(world: World, clock: Any) -> None:
    project = world.at_bench()
    give_permits(world.cast, world.cast.owner)
    do_step(project, "prepare", clock, world.cast)
    before = list(BenchStep.objects.order_by("pk").values("wording", "wording_sha"))
    words = house_words(BenchStepKind.PREPARE, "en")
    reword(
        world.cast.school,
        BenchStepKind.PREPARE,
        do=("Something else.",),
        right_when=words.right_when,
        mistakes=words.mistakes,
        seen=0,
        acting=world.cast.teacher,
    )
    start_step(step_of(project, "adhere"), acting=world.cast.owner)
    assert list(BenchStep.objects.order_by("pk").values("wording", "wording_sha")) == before
    signed = SignOff.objects.filter(step__kind="prepare").values_list("wording_sha", flat=True)
    assert set(signed) == {step_of(project, "prepare").wording_sha}


def test_the_same_words_again_are_no_new_version(world: World) -> None:
    assert said(world).version == 1
    assert said(world).version == 1  # the same form sent twice
    assert StepWording.objects.count() == 1


def test_words_over_somebody_elses_are_refused(world: World) -> None:
    said(world)
    with pytest.raises(Refused, match="Somebody else has reworded"):
        said(world, "Mine.", seen=0)
    assert words_now(world.cast.school, SAW, "en").do == ("Look at the plan.", "Saw slowly.")


def test_a_version_is_never_changed(world: World) -> None:
    said(world)
    with pytest.raises(HistoryIsKept):
        StepWording.objects.update(do=["x"])


def test_another_school_keeps_its_own_words(world: World) -> None:
    said(world)
    elsewhere = world.cast.outsider.school
    assert school_words(elsewhere, "en") == {}
    with pytest.raises(Refused, match="teacher of this school"):
        reword(
            elsewhere, SAW, do=("x",), right_when=("y",), mistakes=(), seen=0,
            acting=world.cast.teacher,
        )  # fmt: skip
    page = signed_in(world.cast.outsider).get(reverse("step_words_edit", args=["saw"]))
    assert "Look at the plan." not in page.content.decode()


@pytest.mark.parametrize("name", ["step_words", "step_words_edit", "step_words_house"])
def test_who_may_see_and_change_them(world: World, name: str) -> None:
    url = reverse(name, args=[] if name == "step_words" else ["saw"])
    people = (world.cast.teacher, world.cast.other_teacher, world.cast.owner, world.cast.classmate)
    method = "post" if name == "step_words_house" else "get"
    answers = [getattr(signed_in(one), method)(url).status_code for one in people]
    assert answers == ([302, 302, 403, 403] if method == "post" else [200, 200, 403, 403])


def test_the_form_makes_a_version_and_the_list_says_so(world: World) -> None:
    teacher = signed_in(world.cast.teacher)
    url = reverse("step_words_edit", args=["saw"])
    assert "String the blade" in teacher.get(url).content.decode()
    page = teacher.post(url, posted(), follow=True).content.decode()
    assert "“Saw it out” now says version 1." in page
    assert "version 1</p>" in page
    made = StepWording.objects.get()
    assert (made.version, made.made_by) == (1, world.cast.teacher)
    assert made.do == ["Look at the plan.", "Saw slowly."]
    assert made.mistakes == [["It snaps", "You push.", "Push less."]]
    assert "Nothing was changed." in teacher.post(url, posted(), follow=True).content.decode()


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ({"do": " \n "}, "Write at least one line."),
        ({"right_when": ""}, "Write at least one line."),
        ({"do": "x\n" * 21}, "At most 20 lines"),
        ({"do": "x" * 301}, "at most 300"),
        ({"mistakes": "It snaps | You push."}, "needs three parts"),
        ({"mistakes": "a | | c"}, "needs three parts"),
        ({"mistakes": "a | b | c | d"}, "needs three parts"),
        ({"mistakes": "\n".join(["a | b | c"] * 13)}, "At most 12 lines"),
        ({"mistakes": "a | " + "b" * 301 + " | c"}, "more than 300 characters"),
    ],
)
def test_words_past_the_bounds_are_refused_and_kept_in_the_form(
    world: World, changes: dict[str, str], complaint: str
) -> None:
    url = reverse("step_words_edit", args=["saw"])
    page = signed_in(world.cast.teacher).post(url, posted(**changes)).content.decode()
    assert complaint in page
    assert "Look at the plan." in page or "do" in changes
    assert not StepWording.objects.exists()


def test_markup_in_words_stays_text(world: World) -> None:
    said(world, "<script>alert(1)</script>")
    project = world.at_bench()
    page = signed_in(world.cast.owner).get(reverse("bench", args=[project.pk])).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_the_first_words_come_back_as_a_new_version(world: World) -> None:
    said(world)
    teacher = signed_in(world.cast.teacher)
    teacher.post(reverse("step_words_house", args=["saw"]))
    now = words_now(world.cast.school, SAW, "en")
    assert (now.version, now.do) == (2, TEXTS[SAW].do)
    assert StepWording.objects.count() == 2


def test_a_step_that_does_not_exist_is_not_found(world: World) -> None:
    teacher = signed_in(world.cast.teacher)
    assert teacher.get(reverse("step_words_edit", args=["solder"])).status_code == 404
    assert teacher.post(reverse("step_words_house", args=["solder"])).status_code == 404
