"""Where projects stand: the facts for `core.standing`, read for many at once, and its answer.

Reads only. The pages that tell a person what comes next all get it from here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet
from django.urls import reverse

from classroom.languages import SAY
from classroom.models import Topic, User
from studio.core.standing import (
    BenchNow,
    Next,
    PatternNow,
    Place,
    PlanNow,
    Standing,
    Turn,
    next_for_student,
    next_for_teacher,
)
from studio.models import BenchStep, BuilderDraft, CutPlan, Pattern, PlanProject, Project
from studio.steps.at_work import HAS_LEFT, why_shut
from studio.steps.bench import rules as bench_rules
from studio.steps.bench.situation import situations

Stage = Project.Stage
WITH = ("brief__course", "seat__student", "metal")
Others = Mapping[int, tuple[int, int]]
"""By a plan's pk: how many projects are not made, and how many of those have lost their student."""
AT_WORK = (Stage.PLANNED, Stage.AT_BENCH)


@dataclass(frozen=True, slots=True)
class WhatsNext:
    """The answer for one person and project, with the page where it is done.

    `elsewhere` is False where that is the project's own page.
    """

    next: Next
    url: str
    elsewhere: bool

    @property
    def waiting(self) -> bool:
        return self.next.turn is not Turn.YOURS

    @property
    def url_elsewhere(self) -> str:
        """For the project's own page, which needs no button to itself."""
        return self.url if self.elsewhere and self.next.label else ""


def with_what_counts(projects: QuerySet[Project]) -> QuerySet[Project]:
    """The projects with everything that `whats_next` looks at, in a fixed number of queries."""
    return projects.prefetch_related(
        # What a page says in a sentence needs no drawing: a scan's lines are half a megabyte.
        Prefetch(
            "patterns",
            Pattern.objects.current()
            .with_how_made()
            .defer("tracing", "relabels", "changes", "recipe", "drawing_json"),
            to_attr="current_patterns",
        ),
        "bench_steps",
        Prefetch(
            "plan_shares",
            PlanProject.objects.filter(live=True)
            .with_left_over()
            .select_related("plan__placing")
            .defer("plan__job", "plan__answer", "plan__placing__progress"),
            to_attr="live_shares",
        ),
        Prefetch("builder_draft", BuilderDraft.objects.with_shapes().defer("recipe")),
        "brief__metals",
    )


def whats_next(projects: Sequence[Project], asking: User) -> dict[int, WhatsNext]:
    """By the project's pk, for the one who asks. The projects come from `with_what_counts`."""
    at_bench = [one for one in projects if one.stage == Stage.AT_BENCH]
    benches = situations(at_bench, asking.school) if at_bench else {}
    on_bench = {pk: _bench(on) for pk, (on, _) in benches.items()}
    topics = _topics(asking, on_bench.values())
    busy = _others_at_work(projects)
    found: dict[int, WhatsNext] = {}
    for project in projects:
        bench, permit = on_bench.get(project.pk, (None, ""))
        standing = _standing(project, bench, busy)
        answer = (next_for_teacher if asking.is_teacher else next_for_student)(standing, SAY)
        url = _url(answer.place, project, topics.get(permit))
        home = reverse("project", args=[project.pk])
        found[project.pk] = WhatsNext(answer, url or home, bool(url))
    return found


def next_on(project: Project, asking: User) -> WhatsNext:
    """For one project that was fetched for another purpose."""
    rows = with_what_counts(Project.objects.filter(pk=project.pk).select_related(*WITH))
    return whats_next(list(rows), asking)[project.pk]


def _standing(project: Project, bench: BenchNow | None, busy: Others) -> Standing:
    share = _share(project)
    others = left = 0
    if share is not None and project.stage == Stage.MADE:
        others, left = busy.get(share.plan_id, (0, 0))
    return Standing(
        stage=project.stage,
        student=project.student.display_name,
        left=HAS_LEFT if project.seat.left_at is not None else "",
        shut=why_shut(project),
        metal_chosen=project.has_allowed_metal,
        pattern=_pattern_now(_current(project)),
        building=hasattr(project, "builder_draft"),
        plan=_plan_now(share),
        bench=bench,
        others_at_work=others,
        others_left=left,
    )


def _plan_now(share: PlanProject | None) -> PlanNow | None:
    if share is None:
        return None
    if share.plan.broke_off:
        return PlanNow.BROKE_OFF
    if share.plan.state == CutPlan.State.PLACING:
        return PlanNow.PLACING
    over = share.leaves_over  # type: ignore[attr-defined]
    return PlanNow.LEAVES_OVER if over else PlanNow.READY


def _pattern_now(pattern: Pattern | None) -> PatternNow | None:
    if pattern is None:
        return None
    return PatternNow(
        number=pattern.number,
        stops=len(pattern.stops),
        built=pattern.was_built and not pattern.was_corrected,  # type: ignore[attr-defined]
        remark=pattern.remark,
        layout=(pattern.mark or {}).get("on") == "layout",
    )


def _bench(on: bench_rules.Situation) -> tuple[BenchNow | None, str]:
    """The step whose turn it is, and the code of the permit that it lacks."""
    step = bench_rules.foremost(on)
    if step is None:
        return None, ""
    phase = bench_rules.phase(step, on)
    if phase is bench_rules.Phase.SHARED:
        return _shared(step, on), ""
    code = ""
    if phase is bench_rules.Phase.BLOCKED:
        code = next((one.permit for one in bench_rules.to_start(step, on) if one.permit), "")
    waits = phase is bench_rules.Phase.WAITING
    until = step.wait_until if waits else None
    title = on.missing.get(code, code)
    return BenchNow(bench_rules.title(step), str(phase), until=until, permit=title), code


def _shared(step: BenchStep, on: bench_rules.Situation) -> BenchNow:
    """What is done once for all comes first; then it is a matter of whose turn it is."""
    common = next((one.open_step for one in on.shared.pieces if one.open_step is not None), None)
    if common is None:
        why = " ".join(one.text for one in bench_rules.to_start(step, on))
        return BenchNow(bench_rules.title(step), "shared", why=why)
    title = bench_rules.title(common)
    if common.student_signed_at is not None:
        return BenchNow(title, "to check")
    if bench_rules.is_waiting(common, on.now):
        return BenchNow(title, "waiting", until=common.wait_until)
    return BenchNow(title, "together")


def _topics(asking: User, benches: Iterable[tuple[BenchNow | None, str]]) -> dict[str, int]:
    codes = {code for _, code in benches if code}
    if not codes:
        return {}
    return dict(
        Topic.objects.filter(school=asking.school, code__in=codes).values_list("code", "pk")
    )


def _others_at_work(projects: Sequence[Project]) -> Others:
    """For each plan with a made piece: how many of its projects are not made, and how many of
    those never will be, because their students have left the course."""
    plans = {
        share.plan_id
        for project in projects
        if project.stage == Stage.MADE and (share := _share(project)) is not None
    }
    if not plans:
        return {}
    rows = PlanProject.objects.filter(plan__in=plans, live=True, project__stage__in=AT_WORK)
    found: dict[int, tuple[int, int]] = {}
    for plan, left_at in rows.values_list("plan_id", "project__seat__left_at"):
        others, left = found.get(plan, (0, 0))
        found[plan] = (others + 1, left + (left_at is not None))
    return found


def _url(place: Place, project: Project, topic: int | None) -> str:
    """Where the place is; "" where it is the project's own page, or does not exist (any more)."""
    current, share = _current(project), _share(project)
    match place:
        case Place.UPLOAD:
            return reverse("pattern_upload", args=[project.pk])
        case Place.BUILD:
            return reverse("pattern_build", args=[project.pk])
        case Place.PATTERN if current is not None:
            return reverse("pattern", args=[current.pk])
        case Place.LAYOUT:
            return reverse("project_layout", args=[project.pk])
        case Place.ANSWER if current is not None:
            return reverse("pattern_review", args=[current.pk])
        case Place.NEW_PLAN:
            return reverse("plan_new", args=[project.brief.course_id])
        case Place.PLAN if share is not None:
            return reverse("plan", args=[share.plan_id])
        case Place.METAL_BACK if share is not None:
            return reverse("plan_return", args=[share.plan_id])
        case Place.BENCH:
            return reverse("bench", args=[project.pk])
        case Place.LESSON if topic is not None:
            return reverse("topic", args=[topic])
        case _:
            return ""


def _current(project: Project) -> Pattern | None:
    found: list[Pattern] = project.current_patterns  # type: ignore[attr-defined]
    return found[0] if found else None


def _share(project: Project) -> PlanProject | None:
    found: list[PlanProject] = project.live_shares  # type: ignore[attr-defined]
    return found[0] if found else None
