"""A school words its bench steps in its own way, and says how deep its saw frames reach.

A wording is a new row with the next version; metal handed out from then on takes it. What has
been handed out keeps its words, so that a signed step still says what was signed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from classroom.languages import SAY, in_language, known
from classroom.models import School, User, record
from classroom.refusals import Refused
from studio.core.bench import SchoolWords
from studio.core.bench import house_words as words_of_the_house
from studio.core.bench_texts import TEXTS, Mistake, StepKind
from studio.models import BenchSetup, StepWording
from studio.models.bench_words import USUAL_FRAME_MM

CHANGED = gettext_noop(
    "Somebody else has reworded this step since you opened the page. Open it again and look at "
    "the newer words first."
)


def school_words(school: School) -> dict[StepKind, SchoolWords]:
    """The newest wording of each kind of step that the school has worded itself."""
    rows = StepWording.objects.filter(school=school).order_by("kind", "version")
    own = known(school.language)
    return {StepKind(row.kind): replace(words_of(row), language=own) for row in rows}


def words_of(row: StepWording) -> SchoolWords:
    return SchoolWords(
        version=row.version,
        do=tuple(row.do),
        right_when=tuple(row.right_when),
        mistakes=tuple(Mistake(*one) for one in row.mistakes),
    )


def house_words(school: School, kind: StepKind) -> SchoolWords:
    """The words that came with the app, in the school's language: version 0."""
    with in_language(school.language):
        return words_of_the_house(kind, SAY)


def words_now(school: School, kind: StepKind) -> SchoolWords:
    """What a step of this kind says today."""
    newest = StepWording.objects.filter(school=school, kind=kind).order_by("-version").first()
    return words_of(newest) if newest is not None else house_words(school, kind)


@transaction.atomic
def reword(
    school: School,
    kind: StepKind,
    *,
    do: Sequence[str],
    right_when: Sequence[str],
    mistakes: Iterable[Mistake],
    seen: int,
    acting: User,
) -> SchoolWords:
    """A new wording of this kind of step. `seen` is the version that was being reworded.

    The same words again change nothing, so a form sent twice makes one version. Raises Refused
    when another version came in between, and for steps without anything to do or to look for.
    """
    if not acting.is_teacher or acting.school_id != school.pk:
        raise Refused(_("Only a teacher of this school words its steps."))
    if not do or not right_when:
        text = _("Write at least one line of what to do and one of when it is right.")
        raise Refused(text)
    now = words_now(school, kind)
    wanted = SchoolWords(now.version, tuple(do), tuple(right_when), tuple(mistakes))
    if wanted == now:
        return now
    if seen != now.version:
        raise Refused(_(CHANGED))
    try:
        with transaction.atomic():
            made = StepWording.objects.create(
                school=school,
                kind=kind,
                version=now.version + 1,
                do=list(wanted.do),
                right_when=list(wanted.right_when),
                mistakes=[[one.what, one.cause, one.mend] for one in wanted.mistakes],
                made_by=acting,
            )
    except IntegrityError:
        raise Refused(_(CHANGED)) from None
    record(acting, "step-reworded", made, f"reworded “{TEXTS[kind].title}”, version {made.version}")
    return words_of(made)


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
