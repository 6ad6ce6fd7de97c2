"""A school words its bench steps in its own way, and says how deep its saw frames reach.

A wording is a new row with the next version; metal handed out from then on takes it. What has
been handed out keeps its words, so that a signed step still says what was signed.

The words in the school's language are the ones that count. Words in another language say the
same as one version of them; once the school words the step anew, they are passed over until a
teacher has renewed them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.languages import LANGUAGES, SAY, in_language, known
from classroom.models import School, User, record
from classroom.refusals import Refused
from studio.core.bench.planned import SchoolWords
from studio.core.bench.steps import house_words as words_of_the_house
from studio.core.bench.texts import TEXTS, BenchStepKind, Mistake
from studio.models import BenchSetup, StepWording
from studio.models.bench_words import USUAL_FRAME_MM

CHANGED = gettext_noop(
    "Somebody else has reworded this step since you opened the page. Open it again and look at "
    "the newer words first."
)


def school_words(school: School, language: str) -> dict[BenchStepKind, SchoolWords]:
    """The words to be shown in a language, of each kind of step that the school words itself.

    A kind without them has our words: one that was never reworded, or that went back to the
    first words.
    """
    own_language = known(school.language)
    newest = _newest(school)
    found = {}
    for kind in BenchStepKind:
        own, said = newest.get((kind, own_language)), newest.get((kind, language))
        if own is not None and _is_ours(own):
            own = None
        if said is not None and language != own_language and not _is_stale(said, newest):
            found[kind] = school_words_of(said)
        elif own is not None:
            found[kind] = school_words_of(own)
    return found


def school_words_of(row: StepWording) -> SchoolWords:
    return SchoolWords(
        version=row.version,
        do=tuple(row.do),
        right_when=tuple(row.right_when),
        mistakes=tuple(Mistake(*one) for one in row.mistakes),
        language=row.language,
    )


def house_words(kind: BenchStepKind, language: str) -> SchoolWords:
    """The words that came with the app: version 0."""
    with in_language(language):
        return replace(words_of_the_house(kind, SAY), language=known(language))


def words_now(school: School, kind: BenchStepKind, language: str) -> SchoolWords:
    """The newest words of this kind of step in a language, stale or not; else ours."""
    row = _newest(school).get((kind, language))
    return school_words_of(row) if row is not None else house_words(kind, language)


def stale_kinds(school: School, language: str) -> set[BenchStepKind]:
    """Kinds whose words in this language are older than the school's own."""
    newest = _newest(school)
    rows = {kind: newest.get((kind, language)) for kind in BenchStepKind}
    return {kind for kind, row in rows.items() if row is not None and _is_stale(row, newest)}


def missing_kinds(school: School, language: str) -> set[BenchStepKind]:
    """Kinds that the school words in its own language, and not in this one."""
    newest = _newest(school)
    own = {kind: newest.get((kind, known(school.language))) for kind in BenchStepKind}
    return {
        kind
        for kind, row in own.items()
        if row is not None and not _is_ours(row) and (kind, language) not in newest
    }


@transaction.atomic
def reword(
    school: School,
    kind: BenchStepKind,
    *,
    do: Sequence[str],
    right_when: Sequence[str],
    mistakes: Iterable[Mistake],
    seen: int,
    acting: User,
    language: str = "",
    seen_own: int | None = None,
) -> SchoolWords:
    """A new wording of this kind of step, in `language` or else the school's own.

    `seen` is the version that was being reworded; of another language's words, `seen_own` is the
    version of the school's own that they were written beside. The same words again change
    nothing (but renew words that are stale), so a form sent twice makes one version. Raises
    Refused when another version came in between, and for steps without anything to do or to look
    for.
    """
    if not acting.is_teacher or acting.school_id != school.pk:
        raise Refused(_("Only a teacher of this school words its steps."))
    if not do or not right_when:
        text = _("Write at least one line of what to do and one of when it is right.")
        raise Refused(text)
    own_language = known(school.language)
    language = language or own_language
    own = words_now(school, kind, own_language).version if language != own_language else 0
    newest = _newest(school).get((kind, language))
    now = school_words_of(newest) if newest is not None else house_words(kind, language)
    wanted = SchoolWords(now.version, tuple(do), tuple(right_when), tuple(mistakes), language)
    renewed = newest is not None and newest.says_version != own
    if wanted == now and not renewed:
        return now
    if seen != now.version or (language != own_language and seen_own not in (None, own)):
        raise Refused(_(CHANGED))
    try:
        with transaction.atomic():
            made = StepWording.objects.create(
                school=school,
                kind=kind,
                language=language,
                version=now.version + 1,
                says_version=own,
                do=list(wanted.do),
                right_when=list(wanted.right_when),
                mistakes=[[one.what, one.cause, one.mend] for one in wanted.mistakes],
                made_by=acting,
            )
    except IntegrityError:
        raise Refused(_(CHANGED)) from None
    where = "" if language == own_language else f" in {LANGUAGES[language]}"
    text = f"reworded “{TEXTS[kind].title}”{where}, version {made.version}"
    record(acting, "step-reworded", made, text)
    return school_words_of(made)


def _newest(school: School) -> dict[tuple[BenchStepKind, str], StepWording]:
    """The newest wording of each kind in each language that the school has worded."""
    rows = StepWording.objects.filter(school=school).select_related("school").order_by("version")
    return {(BenchStepKind(row.kind), row.language): row for row in rows}


def _is_ours(row: StepWording) -> bool:
    """Whether the wording says what the app's own words say."""
    words = school_words_of(row)
    return replace(words, version=0) == house_words(BenchStepKind(row.kind), row.language)


def _is_stale(row: StepWording, newest: Mapping[tuple[BenchStepKind, str], StepWording]) -> bool:
    """Whether the school has worded the step anew since this was said in another language."""
    own_language = known(row.school.language)
    own = newest.get((BenchStepKind(row.kind), own_language))
    return row.language != own_language and row.says_version != (own.version if own else 0)


def frame_depth_mm(school: School) -> float:
    """How deep the school's saw frames reach, in millimetres."""
    setup = BenchSetup.objects.filter(school=school).first()
    return float(setup.frame_depth_mm if setup is not None else USUAL_FRAME_MM)


@transaction.atomic
def set_frame_depth(school: School, depth_mm: Decimal, *, acting: User) -> BenchSetup:
    """Keep the frames' depth; cut plans say from now on which lines lie deeper."""
    if not acting.is_teacher or acting.school_id != school.pk:
        raise Refused(_("Only a teacher of this school says what its benches have."))
    setup, _made = BenchSetup.objects.get_or_create(school=school)
    if setup.frame_depth_mm != depth_mm:
        setup.frame_depth_mm = depth_mm
        setup.full_clean()
        setup.save()
        record(acting, "frame-depth", setup, f"saw frames reach {depth_mm} mm")
    return setup
