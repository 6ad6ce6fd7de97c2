"""What the bench page of one project shows: the step that is on, the others folded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import get_language, gettext, gettext_noop

from classroom.models import TopicWording, User
from classroom.safety.permits import TopicStanding
from classroom.safety.topics import wordings_for
from studio.core.bench.texts import DRY_MINUTES, SOAK_MINUTES, BenchStepKind
from studio.core.bench.times import HowLong, how_long
from studio.core.cutting.groups import group_of
from studio.core.picturing.where import WherePicture, where_to_prepare
from studio.forms.bench.signing import OverrideForm, SendBackForm
from studio.models import BenchStep, Project, SignOff
from studio.queries.bench import sent_back, sign_offs_of
from studio.queries.plans import plans_holding
from studio.steps.bench import rules as bench_rules
from studio.steps.bench.rules import Obstacle, Phase, Rule, Situation
from studio.steps.bench.shared_rules import SharedPiece
from studio.steps.bench.situation import situations
from studio.steps.bench.times import own_minutes
from studio.steps.plans.placing_settings import rules_for
from studio.telling.today.standings import next_on
from studio.views.plans.saw_order import SawOrder, saw_order

from .any_step import AnyStepShown

MAY_BE_SENT_BACK = frozenset(
    {Phase.READY, Phase.BLOCKED, Phase.SHARED, Phase.AT_WORK, Phase.WAITING}
)
"""Where a teacher's remark on an earlier try is still to be heeded."""

PICTURED = frozenset({BenchStepKind.PREPARE, BenchStepKind.ADHERE})
ORDERED = frozenset({BenchStepKind.DRILL, BenchStepKind.SAW})
SIGNED: dict[str, str] = {
    SignOff.Kind.STARTED: gettext_noop("started “%(step)s”"),
    SignOff.Kind.DONE: gettext_noop("signed as done: “%(step)s”"),
    SignOff.Kind.CHECKED: gettext_noop("checked “%(step)s”"),
    SignOff.Kind.SENT_BACK: gettext_noop("sent “%(step)s” back"),
    SignOff.Kind.OVERRIDE: gettext_noop("lifted a rule for “%(step)s”"),
}
RULES: dict[str, str] = {
    Rule.ORDER: gettext_noop("the order of the steps"),
    Rule.PERMIT: gettext_noop("bench permit"),
    Rule.START: gettext_noop("starting the step first"),
    Rule.WAIT: gettext_noop("the waiting time"),
    Rule.SIGNATURE: gettext_noop("the student's own signature"),
    Rule.PAPERS: gettext_noop("drying of papers that were added"),
}


@dataclass(frozen=True, slots=True)
class PermitShown:
    """A permit that a step asks for, and how the student stands with it today."""

    title: str
    kind: str
    word: str
    note: str = ""
    topic_pk: int | None = None


@dataclass(slots=True)
class StepShown(AnyStepShown):
    """One step with its words, and what this person can do about it now."""

    step: BenchStep
    phase: Phase
    obstacles: list[Obstacle]
    permits: list[PermitShown]
    clock: dt.datetime  # this moment
    sent_back: SignOff | None = None
    may_start: bool = False
    may_sign: bool = False
    may_check: bool = False
    back_form: SendBackForm | None = None
    override_form: OverrideForm | None = None
    bound: bool = False  # a form of it came back with faults: it is shown open
    pictures: tuple[WherePicture, ...] = ()
    orders: tuple[SawOrder, ...] = ()
    how_long: HowLong | None = None

    @property
    def under_way(self) -> bool:
        """Begun and not done; more than one step is when a teacher set the order aside."""
        return self.phase in (Phase.AT_WORK, Phase.WAITING, Phase.TO_CHECK)

    @property
    def lacks_permit(self) -> bool:
        return any(one.rule is Rule.PERMIT for one in self.obstacles)


@dataclass(slots=True)
class Bench:
    """All of one project's bench."""

    project: Project
    on: Situation
    now: StepShown | None
    others: list[StepShown] = field(default_factory=list)

    @property
    def count(self) -> int:
        return len(self.on.steps)


def bench_of(
    user: User, project: Project, *, bound: Mapping[int, SendBackForm | OverrideForm] | None = None
) -> Bench:
    """The page's content; `bound` has the form of a step (by pk) that came back with faults."""
    school = project.seat.student.school
    on, standing = situations([project], school)[project.pk]
    current = on.current
    if current is not None and bound:
        current = next((step for step in on.steps if step.pk in bound), current)
    backs = sent_back([project])
    titles = wordings_for([one.topic for one in standing.values()], get_language() or "en")
    shown = [
        _shown(user, step, on, standing, titles, backs.get(step.pk), (bound or {}).get(step.pk))
        for step in on.steps
    ]
    at_bench = project.stage == Project.Stage.AT_BENCH
    front = next((one for one in shown if at_bench and one.step is current), None)
    if front is not None and front.step.kind in PICTURED:
        front.pictures = where(project)
    if front is not None and front.step.kind in ORDERED:
        front.orders = saw_order(project)
    times = own_minutes(project.brief.course)
    for one in shown:
        kind = BenchStepKind(one.step.kind)
        one.how_long = how_long(kind, times.get(kind, ()), one.step.wait_minutes)
    return Bench(project, on, front, [one for one in shown if one is not front])


def bench_context(
    user: User, project: Project, *, bound: Mapping[int, SendBackForm | OverrideForm] | None = None
) -> dict[str, Any]:
    bench = bench_of(user, project, bound=bound)
    return {
        "plan_pk": plans_holding([project]).values_list("pk", flat=True).first(),
        "project": project,
        "bench": bench,
        "following": next_on(project, user) if project.stage == Project.Stage.MADE else None,
        "is_teacher": user.is_teacher,
        "dry_minutes": DRY_MINUTES,
        "soak_minutes": SOAK_MINUTES,
        "diary": list(diary(project)),
        "shared": shared_rows(bench.on),
        "crumbs": _crumbs(user, project),
    }


@dataclass(frozen=True, slots=True)
class SharedRow:
    """A stock piece that the project shares, in words that any of its students may read."""

    pk: int
    code: str
    kind: str
    word: str
    step: str  # the title of the common step that is on, "" when all are done


def shared_rows(on: Situation) -> list[SharedRow]:
    return [_shared_row(piece, on.now) for piece in on.shared.pieces]


def _shared_row(piece: SharedPiece, now: dt.datetime) -> SharedRow:
    step = piece.open_step
    if step is not None:
        word = gettext("“%(step)s” is done once for all") % {"step": bench_rules.title(step)}
        return SharedRow(piece.plan_stock, piece.code, "current", word, bench_rules.title(step))
    holder = piece.holder
    if holder is None:
        return SharedRow(piece.plan_stock, piece.code, "draft", gettext("Nobody is named yet"), "")
    said = {"letter": holder.letter, "time": bench_rules.clock(holder.since, now)}
    if piece.mine:
        kind, word = "done", gettext("You have it, since %(time)s") % said
    elif holder.share is None:
        kind, word = "waiting", gettext("On the shelf since %(time)s") % said
    else:
        kind, word = "waiting", gettext("Student %(letter)s has it, since %(time)s") % said
    return SharedRow(piece.plan_stock, piece.code, kind, word, "")


def where(project: Project) -> tuple[WherePicture, ...]:
    """Where the project's pattern lies on its metal, by the plan that was issued."""
    plan = plans_holding([project]).select_related("course__school").first()
    if plan is None or plan.laid is None:
        return ()
    rules = rules_for(plan.course.school, plan.course)
    return where_to_prepare(plan.asked, plan.laid, group_of(project.pk), rim_mm=float(rules.rim_mm))


def diary(project: Project) -> Iterable[dict[str, Any]]:
    """Who signed what and when, newest first."""
    for row in sign_offs_of(project):
        what = gettext(SIGNED[row.kind]) % {"step": bench_rules.title(row.step)}
        if row.set_aside:
            what += f" ({', '.join(rule_words(name) for name in row.set_aside)})"
        yield {"when": row.at, "who": row.by, "what": what, "why": row.reason}


def rule_words(name: str) -> str:
    """A rule's recorded name, such as permit:drill-press, in words."""
    rule, _, code = name.partition(":")
    words = gettext(RULES.get(rule, rule))
    return f"{words} {code.replace('-', ' ')}" if code else words


def _shown(
    user: User,
    step: BenchStep,
    on: Situation,
    standing: Mapping[str, TopicStanding],
    titles: Mapping[int, TopicWording],
    sent_back: SignOff | None,
    bound: SendBackForm | OverrideForm | None,
) -> StepShown:
    phase = bench_rules.phase(step, on)
    obstacles: list[Obstacle] = []
    if phase in (Phase.BLOCKED, Phase.SHARED, Phase.LATER):
        obstacles = bench_rules.to_start(step, on)
    elif phase in (Phase.AT_WORK, Phase.WAITING):
        found = bench_rules.to_finish(step, on)
        obstacles = [one for one in found if one.rule is not Rule.WAIT]
    one = StepShown(
        step,
        phase,
        obstacles,
        [_permit(code, standing.get(code), titles, on.now.date()) for code in step.permits],
        on.now,
        sent_back if phase in MAY_BE_SENT_BACK else None,
    )
    if user.is_student:
        one.may_start = phase is Phase.READY
        one.may_sign = phase is Phase.AT_WORK and not obstacles
        return one
    one.may_check = phase is Phase.TO_CHECK and not bench_rules.to_check(step, on)
    if not bench_rules.to_send_back(step, on):
        one.back_form = SendBackForm(auto_id=f"back-{step.pk}-%s")
    if phase not in (Phase.DONE, Phase.TO_CHECK) and on.stage == Project.Stage.AT_BENCH:
        in_the_way = bench_rules.set_aside_by_going_on(step, on)
        can_go_on = any(one.rule.may_be_set_aside for one in in_the_way)
        one.override_form = OverrideForm(auto_id=f"aside-{step.pk}-%s", can_go_on=can_go_on)
    if isinstance(bound, SendBackForm):
        one.back_form, one.bound = bound, True
    if isinstance(bound, OverrideForm):
        one.override_form, one.bound = bound, True
    return one


def _permit(
    code: str, one: TopicStanding | None, titles: Mapping[int, TopicWording], today: dt.date
) -> PermitShown:
    if one is None:
        title = capfirst(code.replace("-", " "))
        return PermitShown(title, "stop", gettext("not given yet"))
    topic = one.topic
    title = titles[topic.pk].title
    if topic.retired_at is not None:
        return PermitShown(title, "done", gettext("not asked for now"), "", topic.pk)
    permit = one.permit
    if permit is None:
        return PermitShown(title, "stop", gettext("not given yet"), "", topic.pk)
    day = {"day": date_format(permit.expires_on, gettext("j F Y"))}
    if one.in_force:
        return PermitShown(title, one.kind, gettext("held until %(day)s") % day, "", topic.pk)
    if permit.expires_on < today:
        return PermitShown(title, "stop", gettext("ran out on %(day)s") % day, "", topic.pk)
    return PermitShown(title, "stop", gettext("withdrawn"), permit.withdrawal.reason, topic.pk)


def _crumbs(user: User, project: Project) -> list[dict[str, str]]:
    crumbs = [{"label": str(project), "url": reverse("project", args=[project.pk])}]
    if user.is_teacher:
        course = project.brief.course
        label = gettext("Class bench: %(course)s") % {"course": course}
        crumbs.insert(0, {"label": label, "url": reverse("class_bench", args=[course.pk])})
    return [*crumbs, {"label": gettext("At the bench"), "url": ""}]
