"""Lessons, checks and questions that a school starts with, in every language of the house.

Pure data, no database. The English lessons stand in `classroom.safety.texts`; a school gets its
own copy of all of it and may change every word.
"""

from __future__ import annotations

from dataclasses import dataclass

from classroom.safety import texts as safety_texts

from . import lessons_es, questions_en, questions_es
from .shapes import Lesson, Question

__all__ = ["Lesson", "Question", "TopicWords", "words_in"]


@dataclass(frozen=True, slots=True)
class TopicWords:
    """One topic in one language, as a school gets it."""

    code: str
    title: str
    lesson: tuple[str, ...]
    checks: tuple[str, ...]
    questions: tuple[Question, ...]
    valid_days: int


def words_in(language: str) -> tuple[TopicWords, ...]:
    """All topics in the language ("en", "es"). Raises KeyError for a language without texts."""
    lessons = {"en": _english(), "es": lessons_es.LESSONS}[language]
    questions = {"en": questions_en.QUESTIONS, "es": questions_es.QUESTIONS}[language]
    return tuple(
        TopicWords(
            topic.code,
            lessons[topic.code].title,
            lessons[topic.code].lesson,
            lessons[topic.code].checks,
            questions[topic.code],
            topic.renew_after_days,
        )
        for topic in safety_texts.TOPICS
    )


def _english() -> dict[str, Lesson]:
    return {
        topic.code: Lesson(
            topic.title,
            (topic.why, *topic.lessons),
            tuple(line.text for line in topic.practical_check),
        )
        for topic in safety_texts.TOPICS
    }
