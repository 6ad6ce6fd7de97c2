"""A trial layout of every pattern without stops: once for each state, by a worker, bounded."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone
from shapely.geometry import box

from inventory.models import StockPiece
from studio.core.cutting import job_from_json, plan_from_json
from studio.core.verifying import faults
from studio.models import Brief, Pattern, TrialLayout
from studio.running.trials import doing, others, reaping
from studio.steps.layouts import trial_lease as lease
from studio.steps.layouts.trial import MOST_KEPT, MOST_OPEN, asked_of, trial_of
from studio.steps.patterns.relabel import change_metal
from studio.steps.plans.placing_settings import FIELDS, rules_for, set_rules
from tests.people import Cast
from tests.studio.bench.making import World
from tests.studio.patterns.making import (
    BAR,
    LARGE,
    THIN,
    bring,
    make_metal,
    make_project,
    mine,
    svg,
)
from tests.studio.plans.making import stock


def key_now(pattern: Pattern) -> str:
    return asked_of(mine(pattern)).key


def lease_is_over() -> None:
    TrialLayout.objects.update(lease_until=timezone.now() - dt.timedelta(seconds=1))


def test_a_worker_lays_what_was_stored_and_says_what_it_would_cost(pattern: Pattern) -> None:
    assert doing.run_first(pattern.pk, "here/1")
    trial = TrialLayout.objects.get()
    assert (trial.state, trial.pattern, trial.asked_by) == (
        lease.DONE,
        pattern,
        pattern.project.student,
    )
    plan = plan_from_json(trial.answer or {})
    assert len(plan.placements) == 1
    assert faults(job_from_json(trial.job), plan.placements) == ()
    # 800 mm² at 24.00 for 9600 mm², some kerf, glue and blades: a few dollars
    assert Decimal("2.00") < Decimal(trial.others["price"]) < Decimal("3.50")
    assert not doing.run_first(pattern.pk, "here/2")  # never twice for one state
    assert TrialLayout.objects.count() == 1


def test_every_way_of_storing_a_pattern_asks_for_its_trial(
    cast: Cast,
    world: World,
    one_round: None,
    evidence: Any,
    django_capture_on_commit_callbacks: Any,
) -> None:
    project = make_project(cast, world.brief)
    with django_capture_on_commit_callbacks(execute=True):
        first = bring(project, BAR)
    assert TrialLayout.objects.get().state == lease.DONE
    with django_capture_on_commit_callbacks(execute=True):
        change_metal(first, world.metal, 2, acting=cast.owner)
    newest = TrialLayout.objects.first()
    assert newest is not None
    assert len(plan_from_json(newest.answer or {}).placements) == 2
    assert TrialLayout.objects.count() == 2
    with django_capture_on_commit_callbacks(execute=True):
        bring(project, THIN)  # with a stop
    assert TrialLayout.objects.count() == 2


def test_without_metal_on_the_rack_nothing_is_asked_and_nothing_breaks(pattern: Pattern) -> None:
    StockPiece.objects.update(state=StockPiece.State.RESERVED)
    assert not doing.run_first(pattern.pk, "here/1")
    assert not TrialLayout.objects.exists()


def test_the_key_follows_pattern_rack_and_rules_and_nothing_else(
    cast: Cast, world: World, pattern: Pattern
) -> None:
    before = key_now(pattern)
    pattern.project.brief.title = "Another word for it"
    pattern.project.brief.save()
    stock(make_metal(cast, "C26000"), "BRASS-1", box(0, 0, 100, 100))  # of no use here
    assert key_now(pattern) == before

    Pattern.objects.filter(pk=pattern.pk).update(copies=2)
    copies = key_now(pattern)
    stock(world.metal, "CU-9", box(0, 0, 60, 40))
    rack = key_now(pattern)
    StockPiece.objects.filter(code="CU-9").update(cost=Decimal("1.00"))
    price = key_now(pattern)
    said = {name: getattr(rules_for(cast.school), name) for name in FIELDS}
    set_rules(cast.school, None, said | {"hand": "first"}, acting=cast.teacher)
    rules = key_now(pattern)
    assert len({before, copies, rack, price, rules}) == 5


def test_a_person_has_two_open_and_the_third_waits_in_its_row(
    cast: Cast,
    world: World,
    one_round: None,
    evidence: Any,
    django_capture_on_commit_callbacks: Any,
) -> None:
    project = make_project(cast, world.brief)
    person = project.student
    older = bring(project, BAR)
    for number in range(MOST_OPEN):
        TrialLayout.objects.create(pattern=older, key=str(number), asked_by=person, job={})
    TrialLayout.objects.update(state=lease.RUNNING, worker="busy", lease_until=timezone.now())
    with django_capture_on_commit_callbacks() as queued:
        third = trial_of(older)
    assert queued == []
    assert third.state == lease.QUEUED
    assert not doing.run_first(older.pk, "here/1")
    TrialLayout.objects.exclude(pk=third.pk).update(state=lease.DONE, lease_until=None)
    TrialLayout.objects.filter(pk=third.pk).update(
        asked_at=timezone.now() - dt.timedelta(minutes=1)
    )
    with django_capture_on_commit_callbacks(execute=True):
        trial_of(older)  # its page is looked at
    third.refresh_from_db()
    assert third.state == lease.DONE


def test_a_newer_state_takes_the_place_of_older_ones(
    cast: Cast, world: World, pattern: Pattern
) -> None:
    for copies in range(1, 7):
        Pattern.objects.filter(pk=pattern.pk).update(copies=copies)
        trial_of(mine(pattern), start_it=False)
        if copies != 3:
            TrialLayout.objects.filter(state=lease.QUEUED).update(state=lease.DONE)
        kept = list(TrialLayout.objects.values_list("state", flat=True))
        assert len(kept) <= MOST_KEPT
        assert kept[1:].count(lease.QUEUED) == 0  # what waits for an old state is not laid


def test_a_trial_whose_worker_went_away_is_laid_by_another_and_by_nobody_else(
    pattern: Pattern,
) -> None:
    trial = trial_of(pattern, start_it=False)
    assert lease.claim(trial.pk, "gone/1")
    assert not doing.run(trial.pk, "other/2")  # the lease holds
    lease_is_over()
    assert reaping.reap() == 1
    assert doing.run(trial.pk, "other/2")
    assert not lease.finish(trial.pk, "gone/1", answer={})  # it has no say any more
    trial.refresh_from_db()
    assert trial.worker == "other/2"


def test_after_two_attempts_it_fails_in_words(pattern: Pattern) -> None:
    trial = trial_of(pattern, start_it=False)
    for number in range(lease.MOST_ATTEMPTS):
        assert lease.claim(trial.pk, f"gone/{number}")
        lease_is_over()
        reaping.reap()
    trial.refresh_from_db()
    assert trial.state == lease.FAILED
    assert "begun twice" in trial.error
    assert lease.claim(trial.pk, "late/3") is None


def test_what_goes_wrong_in_the_search_is_told_and_the_next_state_is_laid(
    pattern: Pattern, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any) -> None:
        raise ZeroDivisionError

    with monkeypatch.context() as patched:
        patched.setattr(doing, "searched", broken)
        assert not doing.run_first(pattern.pk, "here/1")
    assert "A fault in the program" in TrialLayout.objects.get().error
    Pattern.objects.update(copies=2)
    assert doing.run_first(pattern.pk, "here/2")


def test_another_metal_is_told_with_its_difference_in_money(
    cast: Cast, world: World, pattern: Pattern
) -> None:
    brass = make_metal(cast, "C26000")
    stock(brass, "BR-1", box(0, 0, 120, 80), cost="6.00")  # a quarter of the copper's price
    world.brief.metals.add(brass)
    doing.run_first(pattern.pk, "here/1")
    trial = TrialLayout.objects.get()
    while trial.others["todo"]:
        assert others.run(trial.pk, "here/1")
        trial.refresh_from_db()
    (told,) = [one for one in trial.others["told"] if one["kind"] == "metal"]
    assert told["metal"] == brass.pk
    assert Decimal("-2.50") < Decimal(told["money"]) < Decimal("-1.00")
    assert not others.run(trial.pk, "here/1")


def test_a_pattern_without_a_straight_side_is_told_so(
    cast: Cast, world: World, one_round: None, evidence: Any
) -> None:
    world.brief.max_width_mm = world.brief.max_height_mm = Decimal(90)
    world.brief.save()
    pattern = bring(make_project(cast, world.brief), LARGE)
    doing.run_first(pattern.pk, "here/1")
    trial = TrialLayout.objects.get()
    others.run(trial.pk, "here/1")
    trial.refresh_from_db()
    assert trial.others["told"] == [{"kind": "no-side", "least_mm": 8.0}]


WAVE = "".join(f" L{x} {35.3 if n % 2 else 35}" for n, x in enumerate(range(10, 45, 5), start=1))
HALF_DISC = svg(f'<path d="M5 35{WAVE} L45 35 A20 20 0 0 0 5 35 Z"/>')
"""Its one side, 40 mm, is drawn by an unsure hand: it swings by 0.3 mm."""


def told_of(pattern: Pattern, question: str) -> list[dict[str, Any]]:
    """What the trial's worker tells of this one question."""
    assert doing.run_first(pattern.pk, "here/1")
    trial = TrialLayout.objects.get()
    TrialLayout.objects.update(others=trial.others | {"todo": [question]})
    assert others.run(trial.pk, "here/1")
    trial.refresh_from_db()
    return list(trial.others["told"])


def test_a_nearly_straight_side_made_straight_lies_on_the_edge_and_is_not_sawn(
    cast: Cast, world: World, one_round: None, evidence: Any
) -> None:
    pattern = bring(make_project(cast, world.brief), HALF_DISC)
    (told,) = told_of(pattern, "side")
    assert told["kind"] == "side"
    assert 0.1 <= told["moved_mm"] <= 0.3
    assert told["mm"] == pytest.approx(-40.0, abs=0.5)  # the whole side
    assert Decimal(told["money"]) < 0


def test_a_quarter_turn_to_the_grain_lets_a_bar_fit_a_strip(
    cast: Cast, world: World, one_round: None, evidence: Any
) -> None:
    """As drawn it lies in a corner of a sheet, and 60 mm are sawn; turned it fills the strip from
    edge to edge, and one end is sawn."""
    stock(world.metal, "CU-7", box(0, 0, 60, 20), cost="3.00")
    said = {name: getattr(rules_for(cast.school), name) for name in FIELDS}
    set_rules(cast.school, None, said | {"sheet_grain": "longer"}, acting=cast.teacher)
    world.brief.grain = Brief.Grain.UPRIGHT
    world.brief.save()
    pattern = bring(make_project(cast, world.brief), BAR)
    (told,) = told_of(pattern, "turn")
    assert told["kind"] == "quarter"
    assert told["mm"] == pytest.approx(-40.0, abs=0.5)


def test_a_mirrored_bar_is_the_same_bar(pattern: Pattern) -> None:
    assert told_of(pattern, "turn") == []
