"""The questions of a topic: another order each time, all right or not passed, all kept."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from classroom.languages import LANGUAGES
from classroom.models import BenchPermit, HistoryIsKept, QuestionAttempt, Topic, TopicWording
from classroom.refusals import Refused
from classroom.safety.permits import give_permit, give_permits, withdraw
from classroom.safety.questions import PAUSE, answer, new_sheet, passes, pause_until
from classroom.safety.topic_texts import words_in
from classroom.safety.topics import Wording, reword, seed_topics, translate
from tests.classroom.passing import fail_questions, pass_questions, right_answers, wrong_answers
from tests.clocks import EARLY, stopped_at
from tests.people import Cast

clock = stopped_at(EARLY, always=True)


SECOND = dt.timedelta(seconds=1)


@pytest.fixture
def saw(cast: Cast) -> Topic:
    seed_topics(cast.school)
    return Topic.objects.get(school=cast.school, code="saw-frame")


@pytest.fixture
def bench(cast: Cast, client: Client) -> Client:
    client.force_login(cast.owner)
    return client


def counts(cast: Cast, topic: Topic) -> bool:
    return (cast.owner.pk, topic.pk) in passes([cast.owner], [topic], timezone.now())


def reworded(topic: Topic, cast: Cast, **more: Any) -> Topic:
    words = {
        "title": topic.title,
        "lesson": ["New words"],
        "checks": topic.checks,
        "valid_days": topic.valid_days,
    } | more
    return reword(topic, Wording(**words), seen_version=topic.version, acting=cast.teacher)


@pytest.mark.parametrize("language", list(LANGUAGES))
def test_every_topic_asks_four_to_six_questions_with_one_right_answer(language: str) -> None:
    for text in words_in(language):
        assert 4 <= len(text.questions) <= 6
        for question in text.questions:
            options = [question.right, *question.wrong]
            assert len(set(options)) == len(options) >= 3
            assert question.why


def test_both_languages_have_the_same_lessons_checks_and_questions_in_number() -> None:
    english, spanish = words_in("en"), words_in("es")
    for one, other in zip(english, spanish, strict=True):
        assert one.code == other.code
        for part in ("lesson", "checks", "questions"):
            assert len(getattr(one, part)) == len(getattr(other, part)), (one.code, part)


def test_all_right_is_passed_and_one_wrong_is_not(cast: Cast, saw: Topic) -> None:
    failed = fail_questions(cast.owner, saw)
    assert (failed.passed, failed.right) == (False, len(saw.questions) - 1)
    passed = pass_questions(cast.classmate, saw)
    assert (passed.passed, passed.right) == (True, len(saw.questions))


def test_questions_and_answers_come_in_another_order_each_time(cast: Cast, saw: Topic) -> None:
    sheets = [new_sheet(cast.owner, saw, "en").questions for _ in range(6)]
    assert len({tuple(one.text for one in sheet) for sheet in sheets}) > 1
    assert len({tuple(one.right for one in sheet) for sheet in sheets}) > 1
    for sheet in sheets:
        assert {one.text for one in sheet} == {one["text"] for one in saw.questions}


def test_an_attempt_keeps_what_was_asked_and_answered(cast: Cast, saw: Topic) -> None:
    sheet = new_sheet(cast.owner, saw, "en")
    kept = answer(cast.owner, saw, sheet.token, wrong_answers(sheet))
    assert [one["text"] for one in kept.asked] == [one.text for one in sheet.questions]
    assert [tuple(one["options"]) for one in kept.asked] == [o.options for o in sheet.questions]
    assert kept.given == list(wrong_answers(sheet).values())
    assert (kept.topic_version, kept.wording.version) == (1, 1)
    with pytest.raises(HistoryIsKept):
        kept.delete()


def test_a_sheet_sent_twice_is_one_attempt(cast: Cast, saw: Topic) -> None:
    sheet = new_sheet(cast.owner, saw, "en")
    first = answer(cast.owner, saw, sheet.token, wrong_answers(sheet))
    # What was learnt from the explanations cannot be put into the old sheet.
    assert answer(cast.owner, saw, sheet.token, right_answers(sheet)) == first
    assert QuestionAttempt.objects.count() == 1


def test_after_a_failed_attempt_the_server_keeps_a_pause(
    cast: Cast, saw: Topic, clock: time_machine.Traveller
) -> None:
    fail_questions(cast.owner, saw)
    assert pause_until(cast.owner, saw) == EARLY + PAUSE
    clock.move_to(EARLY + PAUSE - SECOND)
    with pytest.raises(Refused, match="Wait a little"):
        pass_questions(cast.owner, saw)
    clock.move_to(EARLY + PAUSE)
    assert pass_questions(cast.owner, saw).passed


def test_a_pause_is_of_one_student_and_one_topic(cast: Cast, saw: Topic) -> None:
    fail_questions(cast.owner, saw)
    assert pass_questions(cast.classmate, saw).passed
    drill = Topic.objects.get(school=cast.school, code="drill-press")
    assert pass_questions(cast.owner, drill).passed


def test_there_is_no_last_try(cast: Cast, saw: Topic, clock: time_machine.Traveller) -> None:
    for turn in range(12):
        clock.move_to(EARLY + turn * PAUSE)
        assert not fail_questions(cast.owner, saw).passed
    clock.move_to(EARLY + 12 * PAUSE)
    assert pass_questions(cast.owner, saw).passed


def test_a_question_without_an_answer_keeps_nothing(cast: Cast, saw: Topic) -> None:
    sheet = new_sheet(cast.owner, saw, "en")
    for given in ({}, right_answers(sheet) | {0: None}, right_answers(sheet) | {0: 99}):
        with pytest.raises(Refused, match="Answer every question"):
            answer(cast.owner, saw, sheet.token, given)
    assert not QuestionAttempt.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "says"),
    [("token", "too old"), ("student", "somebody else"), ("topic", "another topic")],
)
def test_a_sheet_that_is_not_this_one_is_refused(
    cast: Cast, saw: Topic, wrong: str, says: str
) -> None:
    sheet = new_sheet(cast.owner, saw, "en")
    student = cast.classmate if wrong == "student" else cast.owner
    token = sheet.token[:-3] + "xyz" if wrong == "token" else sheet.token
    drill = Topic.objects.get(school=cast.school, code="drill-press")
    topic = drill if wrong == "topic" else saw
    with pytest.raises(Refused, match=says):
        answer(student, topic, token, right_answers(sheet))


def test_a_sheet_left_open_until_the_afternoon_is_refused(
    cast: Cast, saw: Topic, clock: time_machine.Traveller
) -> None:
    sheet = new_sheet(cast.owner, saw, "en")
    clock.move_to(EARLY + dt.timedelta(hours=4, seconds=2))
    with pytest.raises(Refused, match="too old"):
        answer(cast.owner, saw, sheet.token, right_answers(sheet))


def test_a_sheet_of_words_that_no_longer_stand_is_refused(cast: Cast, saw: Topic) -> None:
    sheet = new_sheet(cast.owner, saw, "en")
    reworded(saw, cast)
    with pytest.raises(Refused, match="reworded"):
        answer(cast.owner, saw, sheet.token, right_answers(sheet))


def test_without_passed_questions_there_is_no_permit(cast: Cast, saw: Topic) -> None:
    with pytest.raises(Refused, match="has not passed the questions"):
        give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    attempt = pass_questions(cast.owner, saw)
    permit = give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    assert (permit.attempt, permit.in_spite_of) == (attempt, "")


def test_a_teacher_may_give_it_without_and_says_why(cast: Cast, saw: Topic) -> None:
    permit = give_permit(
        cast.owner, saw, acting=cast.teacher, remark="", in_spite_of="Answered aloud"
    )
    assert (permit.attempt, permit.in_spite_of) == (None, "Answered aloud")


def test_a_reason_is_kept_only_where_something_was_missing(cast: Cast, saw: Topic) -> None:
    pass_questions(cast.owner, saw)
    permits = give_permits(
        [cast.owner, cast.classmate], saw, acting=cast.teacher, remark="", in_spite_of="Aloud"
    )
    assert [permit.in_spite_of for permit in permits] == ["", "Aloud"]


def test_a_topic_may_ask_for_no_questions(cast: Cast, saw: Topic) -> None:
    reworded(saw, cast, lesson=saw.lesson, asks_questions=False)
    saw.refresh_from_db()
    assert saw.version == 1, "whether questions are asked changes no wording"
    assert give_permit(cast.owner, saw, acting=cast.teacher, remark="").attempt is None


def test_a_pass_of_older_words_no_longer_counts_and_permits_stay(cast: Cast, saw: Topic) -> None:
    pass_questions(cast.owner, saw)
    permit = give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    new = reworded(saw, cast)
    assert not counts(cast, new)
    assert BenchPermit.objects.in_force(timezone.localdate()).get() == permit
    assert TopicWording.objects.get(topic=saw, language="en", version=1).lesson == saw.lesson


def test_a_pass_counts_as_many_days_as_a_permit(
    cast: Cast, saw: Topic, clock: time_machine.Traveller
) -> None:
    pass_questions(cast.owner, saw)
    clock.move_to(EARLY + dt.timedelta(days=saw.valid_days))
    assert counts(cast, saw)
    clock.shift(SECOND)
    assert not counts(cast, saw)


def test_after_a_withdrawal_the_questions_are_asked_again(
    cast: Cast, saw: Topic, clock: time_machine.Traveller
) -> None:
    pass_questions(cast.owner, saw)
    permit = give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    clock.shift(60)
    withdraw(permit, acting=cast.teacher, reason="Sawed toward the hand")
    with pytest.raises(Refused, match="has not passed"):
        give_permit(cast.owner, saw, acting=cast.teacher, remark="")
    clock.shift(60)
    pass_questions(cast.owner, saw)
    assert give_permit(cast.owner, saw, acting=cast.teacher, remark="").attempt


def test_looking_up_passes_asks_twice_however_large_the_class(
    cast: Cast, saw: Topic, django_assert_num_queries: Any
) -> None:
    topics = list(Topic.objects.filter(school=cast.school))
    with django_assert_num_queries(2):
        passes([cast.owner], topics, timezone.now())
    pass_questions(cast.owner, saw)
    pass_questions(cast.classmate, saw)
    with django_assert_num_queries(2):
        passes([cast.owner, cast.classmate], topics, timezone.now())


# In Spanish


def test_a_spanish_sheet_is_the_same_topic_and_passes_it(cast: Cast, saw: Topic) -> None:
    sheet = new_sheet(cast.owner, saw, "es")
    assert sheet.wording.language == "es"
    assert any("hoja" in one.text for one in sheet.questions)
    assert answer(cast.owner, saw, sheet.token, right_answers(sheet)).passed
    assert counts(cast, saw)


def test_an_outdated_translation_is_passed_over_until_it_is_renewed(cast: Cast, saw: Topic) -> None:
    new = reworded(saw, cast)
    assert new_sheet(cast.owner, new, "es").wording.language == "en"
    old = TopicWording.objects.get(topic=saw, language="es")
    words = {name: getattr(old, name) for name in ("title", "lesson", "checks", "questions")}
    made = translate(new, "es", words, seen=1, acting=cast.teacher)
    assert (made.number, made.version) == (2, 2)
    assert new_sheet(cast.owner, new, "es").wording == made


def test_two_translators_at_once_do_not_lose_one_anothers_words(cast: Cast, saw: Topic) -> None:
    words = {"title": "Sierra", "lesson": ["Uno"], "checks": ["Dos"], "questions": saw.questions}
    translate(saw, "es", words, seen=1, acting=cast.teacher)
    with pytest.raises(Refused, match="Somebody else"):
        translate(saw, "es", words | {"title": "Arco"}, seen=1, acting=cast.other_teacher)


def test_a_school_in_spanish_starts_with_spanish_topics_and_english_translations(
    cast: Cast,
) -> None:
    cast.school.language = "es"
    cast.school.save()
    seed_topics(cast.school)
    topic = Topic.objects.get(school=cast.school, code="saw-frame")
    assert (topic.title, topic.language) == ("Arco de sierra", "es")
    assert topic.wordings.get(language="en").title == "Saw frame"


# In the browser


def page_of(client: Client, topic: Topic, lang: str = "en") -> str:
    url = reverse("topic_questions", args=[topic.pk])
    return client.get(f"{url}?lang={lang}").content.decode()


def sent(cast: Cast, topic: Topic, *, right: bool) -> dict[str, Any]:
    sheet = new_sheet(cast.owner, topic, "en")
    given = right_answers(sheet) if right else wrong_answers(sheet)
    return {"sheet": sheet.token} | {f"a{place}": value for place, value in given.items()}


def test_a_student_answers_in_the_browser_and_reads_why(
    cast: Cast, saw: Topic, bench: Client
) -> None:
    assert saw.questions[0]["text"] in page_of(bench, saw)
    url = reverse("topic_questions", args=[saw.pk])
    page = bench.post(url, sent(cast, saw, right=False), follow=True).content.decode()
    assert f"{len(saw.questions) - 1} of {len(saw.questions)} right" in page
    assert saw.questions[0]["why"] in page
    assert "Hand in my answers" not in page_of(bench, saw), "the pause runs"


def test_passing_in_the_browser_leads_to_the_practical_check(
    cast: Cast, saw: Topic, bench: Client
) -> None:
    url = reverse("topic_questions", args=[saw.pk])
    page = bench.post(url, sent(cast, saw, right=True), follow=True).content.decode()
    assert "the practical check" in page
    assert "Questions passed" in bench.get(reverse("topic", args=[saw.pk])).content.decode()


def test_a_forgotten_answer_keeps_the_others_on_the_page(
    cast: Cast, saw: Topic, bench: Client
) -> None:
    said = sent(cast, saw, right=True)
    del said["a0"]
    answered = bench.post(reverse("topic_questions", args=[saw.pk]), said)
    page = answered.content.decode()
    assert "Choose an answer." in page
    assert page.count(" checked") == len(saw.questions) - 1
    assert not QuestionAttempt.objects.exists()


@pytest.mark.parametrize("junk", ["-1", "²", "x" * 600, "99", "", "\x00"])
def test_junk_answers_are_no_answers(cast: Cast, saw: Topic, bench: Client, junk: str) -> None:
    said = sent(cast, saw, right=True) | {"a0": junk}
    assert bench.post(reverse("topic_questions", args=[saw.pk]), said).status_code == 200
    assert not QuestionAttempt.objects.exists()


def test_the_right_answers_are_nowhere_on_the_sheet(cast: Cast, saw: Topic, bench: Client) -> None:
    page = page_of(bench, saw)
    assert saw.questions[0]["why"] not in page
    assert "Toward you" in page


def test_a_page_in_spanish_speaks_spanish(saw: Topic, bench: Client) -> None:
    page = page_of(bench, saw, "es")
    assert "¿Dónde va una hoja rota?" in page
    assert "Entregar mis respuestas" in page


def test_a_teacher_changes_questions_and_everybody_answers_anew(
    cast: Cast, saw: Topic, client: Client
) -> None:
    pass_questions(cast.owner, saw)
    client.force_login(cast.teacher)
    url = reverse("topic_questions_edit", args=[saw.pk])
    assert saw.questions[0]["right"] in client.get(url).content.decode()
    said = {
        "version": "1",
        "q-TOTAL_FORMS": "1",
        "q-INITIAL_FORMS": "0",
        "q-0-text": "Which <b>way</b>?",
        "q-0-right": "Down",
        "q-0-wrong": "Up\nSideways",
        "q-0-why": "It cuts downward.",
    }
    client.post(url, said)
    saw.refresh_from_db()
    assert (saw.version, saw.questions[0]["wrong"]) == (2, ["Up", "Sideways"])
    assert not counts(cast, saw)
    client.force_login(cast.owner)
    assert "Which &lt;b&gt;way&lt;/b&gt;?" in page_of(client, saw)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"q-0-wrong": "Down"}, "among the wrong ones"),
        ({"q-0-wrong": "Up\nup"}, "twice"),
        ({"q-0-wrong": ""}, "required"),
        ({"q-0-wrong": "\n".join("abcdef")}, "At most 5"),
        ({"q-0-wrong": "x" * 161}, "at most 160"),
        ({"q-0-text": "?"}, "letter or digit"),
        ({"version": "9"}, "Somebody else"),
        ({"q-TOTAL_FORMS": "5000"}, "at most 12"),
    ],
)
def test_questions_that_cannot_be_are_not_saved(
    cast: Cast, saw: Topic, client: Client, wrong: dict[str, str], says: str
) -> None:
    client.force_login(cast.teacher)
    said = {
        "version": "1",
        "q-TOTAL_FORMS": "1",
        "q-INITIAL_FORMS": "0",
        "q-0-text": "Which way?",
        "q-0-right": "Down",
        "q-0-wrong": "Up",
        "q-0-why": "It cuts downward.",
    } | wrong
    page = client.post(reverse("topic_questions_edit", args=[saw.pk]), said).content.decode()
    assert says in page
    saw.refresh_from_db()
    assert saw.version == 1


def test_a_teacher_translates_in_the_browser(cast: Cast, saw: Topic, client: Client) -> None:
    client.force_login(cast.teacher)
    url = reverse("topic_translate", args=[saw.pk, "es"])
    assert "Arco de sierra" in client.get(url).content.decode()
    said = {
        "title": "Sierra",
        "lesson": "Uno",
        "checks": "Dos",
        "seen": "1",
        "q-TOTAL_FORMS": "1",
        "q-INITIAL_FORMS": "0",
        "q-0-text": "¿Qué?",
        "q-0-right": "Sí",
        "q-0-wrong": "No",
        "q-0-why": "Porque sí.",
    }
    client.post(url, said)
    page = client.get(f"{reverse('topic', args=[saw.pk])}?lang=es").content.decode()
    assert "Uno" in page
    assert client.get(reverse("topic_translate", args=[saw.pk, "en"])).status_code == 404
    assert client.get(reverse("topic_translate", args=[saw.pk, "xx"])).status_code == 404


def test_the_form_asks_why_when_something_is_missing(
    cast: Cast, saw: Topic, client: Client
) -> None:
    client.force_login(cast.teacher)
    url = f"{reverse('permit_give')}?course={cast.course.pk}&topic={saw.pk}"
    said = {"students": [cast.owner.pk], "on": "2026-11-25", "watched": "on"}
    assert "has not passed the questions" in client.post(url, said).content.decode()
    assert not BenchPermit.objects.exists()
    client.post(url, said | {"in_spite_of": "Answered aloud"})
    assert BenchPermit.objects.get().in_spite_of == "Answered aloud"
