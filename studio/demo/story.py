"""What happened in the demo's course so far, deed by deed, through the steps of the house."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

from classroom.models import Seat
from inventory.models import Metal
from studio.core.bench.steps import USUAL_TEACHER_SIGNS
from studio.core.building import EXAMPLES, Draft
from studio.core.reading import Asked, Upload
from studio.models import Brief, CutPlan, Pattern, Project
from studio.steps.bench.sign import check_step, sign_done, start_step
from studio.steps.patterns.answer import approve_pattern, return_pattern
from studio.steps.patterns.build import keep, opened, use
from studio.steps.patterns.hand_in import hand_in
from studio.steps.patterns.read_in import read_in
from studio.steps.patterns.relabel import change_metal
from studio.steps.patterns.start_project import start_project
from studio.steps.plans.adding import add_to
from studio.steps.plans.approve import approve_plan
from studio.steps.plans.choose_way import choose_way
from studio.steps.plans.issue import issue_plan
from studio.steps.rack.give_back import at_the_bench, close_plan, every_offcut

from .clock import on_day
from .inked import photo_of_moonrise
from .people import People, make_people
from .placing import place_here, placed_here, work_out_ways
from .rack import fill_rack
from .sharing import (
    get_a_guillotine,
    hand_to,
    in_turn,
    lend,
    part_here,
    share_by,
    stick_and_dry,
)

PATTERNS = Path(__file__).parent / "patterns"

Way = CutPlan.Way

TAGS = ("tag", "pennant", "tag", "gull", "pennant", "fish", "tag", "boat")
"""What the class made first, in the order of the class list, over and over."""


def tell() -> None:
    """Make the whole demo in an empty database."""
    people = make_people()
    metals = fill_rack(people)
    tags = _brief(
        people,
        metals,
        days_ago=70,
        title="Berth tag",
        text=(
            "A tag for a key, a bag or a boat: one flat piece with at least one window and a "
            "hole for a ring. Draw it with ruler and stencil, so that straight is straight."
        ),
        size=60,
        allowance="2.00",
        names=("copper", "brass"),
        due=-28,
    )
    pendant = _brief(
        people,
        metals,
        days_ago=24,
        title="Harbour pendant",
        text=(
            "Something you see from the quay, as a pendant or a pair of earrings. Shaded areas "
            "are pierced out. Leave at least 2 mm of metal everywhere."
        ),
        size=62,
        allowance="2.20",
        names=("copper", "brass", "nickel"),
        due=21,
    )
    charm = _brief(
        people,
        metals,
        days_ago=10,
        title="Cork charm",
        text="A small charm for a float or a zip, on what your own metal has free.",
        size=40,
        allowance="1.20",
        names=("copper", "brass", "nickel"),
        due=28,
    )
    _first_brief(people, metals, tags)
    _second_brief(people, metals, pendant)
    _added(people, metals, pendant, charm)


def _brief(
    people: People,
    metals: dict[str, Metal],
    *,
    days_ago: int,
    title: str,
    text: str,
    size: int,
    allowance: str,
    names: Sequence[str],
    due: int,
) -> Brief:
    today = dt.date.today()
    with on_day(days_ago, hour=14):
        brief = Brief.objects.create(
            course=people.course,
            title=title,
            text=text,
            max_width_mm=Decimal(size),
            max_height_mm=Decimal(size),
            allowance=Decimal(allowance),
            due_on=today + dt.timedelta(days=due),
            teacher_signs=[str(kind) for kind in USUAL_TEACHER_SIGNS],
            created_by=people.teacher,
        )
        brief.metals.set([metals[name] for name in names])
    return brief


def _first_brief(people: People, metals: dict[str, Metal], brief: Brief) -> None:
    """Twenty tags in five plans, sawn weeks ago; two of the plans closed with small losses.

    There was no guillotine then, and each sheet went from hand to hand.
    """
    with on_day(69, hour=14):
        share_by(people, Way.PASSED)
    makers = people.seats[:20]
    for group in range(5):
        seats = makers[group * 4 : group * 4 + 4]
        metal = metals["copper" if group % 2 == 0 else "brass"]
        day = 62 - 4 * group
        projects = [
            _approved(people, brief, seat, TAGS[(group * 4 + place) % len(TAGS)], metal, day)
            for place, seat in enumerate(seats)
        ]
        plan = _planned(people, projects, day - 3)
        _issued(people, plan, day - 4)
        stick_and_dry(people, plan, day - 5)
        for place, project in enumerate(in_turn(plan)):
            hand_to(people, project, day - 6 - place)
            _made(people, project, day - 6 - place)
        _closed(people, plan, day - 14, loss_g="0.0" if group % 3 else "0.6")


def _second_brief(people: People, metals: dict[str, Metal], brief: Brief) -> None:
    """The running brief, with work in every state, and a sheet shared each way."""
    seat = people.seat
    copper, brass = metals["copper"], metals["brass"]
    with on_day(21, hour=14):
        get_a_guillotine(people)
        share_by(people, "")

    # Parted with the guillotine, made, and waiting for the metal to be taken back.
    made = [
        _approved(people, brief, seat("Bram"), "lighthouse", brass, 19),
        _approved(people, brief, seat("Cerys"), "anchor", brass, 19),
    ]
    plan = _planned(people, made, 17)
    _issued(people, plan, 16)
    part_here(people, plan, 15)
    for project in made:
        _made(people, project, 12)

    # Passed on: the papers are dry, and the sheet is in the hands of one of three.
    passed = [
        _approved(people, brief, seat("Anouk"), "whale_tail", copper, 12),
        _approved(people, brief, seat("Esme"), "fish", copper, 12),
        _approved(people, brief, seat("Falk"), "shell", copper, 12),
    ]
    plan = _planned(people, passed, 9, way=Way.PASSED)
    _issued(people, plan, 7)
    stick_and_dry(people, plan, 6, away=passed[2:])
    hand_to(people, passed[1], 5)
    _lend_permits(people, passed[1], 5)
    _steps(people, passed[1], 5, upto="remove")
    hand_to(people, passed[0], 2)
    _steps(people, passed[0], 2, upto="saw")

    # Sawn apart: one student's paper dries just now, the other's waits for the teacher's look.
    sawn = [
        _approved(people, brief, seat("Greta"), "oar_earrings", copper, 11),
        _approved(people, brief, seat("Mio"), "fish", copper, 11),
    ]
    plan = _planned(people, sawn, 8, way=Way.SAWN)
    _issued(people, plan, 6)
    part_here(people, plan, 5)
    _lend_permits(people, sawn[1], 4)
    _steps(people, sawn[1], 4, upto="drill")
    _ask_for_check(people, sawn[1], "drill")
    _start_drying(people, sawn[0])

    # Handed out, to be parted today.
    to_part = [
        _approved(people, brief, seat("Lorn"), "anchor", brass, 6),
        _approved(people, brief, seat("Yara"), "wave", brass, 6),
    ]
    _issued(people, _planned(people, to_part, 3), 1)

    # A plan that waits for the teacher, with what each way would cost, and an approved pattern
    # without one.
    proposed = [
        _approved(people, brief, seat(name), drawing, brass, 5)
        for name, drawing in (("Isla", "knot"), ("Joss", "gull"), ("Kaia", "boat"))
    ]
    with on_day(2, hour=11):
        plan = place_here(proposed, acting=people.teacher)
        work_out_ways(plan)
    _approved(people, brief, seat("Oona"), "lighthouse", brass, 3)

    # Patterns waiting, returned, with stops, and in draft.
    for name, drawing, metal, days in (
        ("Nell", "shell", copper, 2),
        ("Pim", "wave", copper, 1),
    ):
        _handed_in(brief, seat(name), drawing, metal, days)
    returned = _handed_in(brief, seat("Quill"), "gull", brass, 4)
    with on_day(3, hour=15):
        return_pattern(
            returned,
            acting=people.teacher,
            remark="Lovely wings. Give the pendant a window: the brief asks for piercing.",
        )
    _draft(brief, seat("Dov"), "thin_net", copper, 2)
    _draft(brief, seat("Runa"), "thin_net", brass, 1)
    _draft(brief, seat("Sorrel"), "whale_tail", brass, 1)
    with on_day(1):
        start_project(brief, seat("Tarn"), acting=seat("Tarn").student)
    _built(brief, seat("Una"), "ring-of-drops", copper, 1)
    _inked(brief, seat("Vesna"), copper, 1)


def _added(people: People, metals: dict[str, Metal], pendant: Brief, charm: Brief) -> None:
    """One student alone on an offcut, with a further pattern on what is free of it."""
    seat, nickel = people.seat("Hanno"), metals["nickel"]
    first = _approved(people, pendant, seat, "wave", nickel, 9)
    plan = _planned(people, [first], 8)
    _issued(people, plan, 7)
    _lend_permits(people, first, 6)
    _steps(people, first, 6, upto="drill")
    further = _approved(people, charm, seat, "tag", nickel, 4)
    with on_day(3, hour=11):
        addition = placed_here(add_to(plan, further, acting=seat.student))
        approve_plan(addition, acting=people.teacher)
    _issued(people, addition, 1)


def _draft(brief: Brief, seat: Seat, drawing: str, metal: Metal, days_ago: int) -> Pattern:
    with on_day(days_ago, hour=9, minute=20), (PATTERNS / f"{drawing}.svg").open("rb") as file:
        project = start_project(brief, seat, acting=seat.student)
        upload = Upload.taken(file, Asked(f"{drawing}.svg"))
        return read_in(project, upload, acting=seat.student, metal=metal)


def _built(brief: Brief, seat: Seat, example: str, metal: Metal, days_ago: int) -> Pattern:
    """A draft built from shapes, from one of the house's own examples."""
    recipe = next(one.recipe for one in EXAMPLES if one.name == example)
    with on_day(days_ago, hour=10, minute=5):
        project = start_project(brief, seat, acting=seat.student)
        draft = Draft().changed(recipe)
        now, _ = keep(project, draft, base=opened(project).base)
        pattern = use(project, acting=seat.student, base=now.base)
        return change_metal(pattern, metal, 1, acting=seat.student)


def _inked(brief: Brief, seat: Seat, metal: Metal, days_ago: int) -> Pattern:
    """A draft read out of a photo of inked paper, with lines that want a neater hand."""
    photo = Upload(photo_of_moonrise("letter"), Asked("moonrise.jpg"))
    with on_day(days_ago, hour=11, minute=15):
        project = start_project(brief, seat, acting=seat.student)
        return read_in(project, photo, acting=seat.student, metal=metal)


def _handed_in(brief: Brief, seat: Seat, drawing: str, metal: Metal, days_ago: int) -> Pattern:
    pattern = _draft(brief, seat, drawing, metal, days_ago)
    with on_day(days_ago, hour=9, minute=45):
        hand_in(pattern, acting=seat.student)
    pattern.refresh_from_db()
    return pattern


def _approved(
    people: People, brief: Brief, seat: Seat, drawing: str, metal: Metal, days_ago: int
) -> Project:
    pattern = _handed_in(brief, seat, drawing, metal, days_ago)
    with on_day(days_ago - 1, hour=13):
        approve_pattern(pattern, acting=people.teacher, place_now=False)
    return Project.objects.get(pk=pattern.project_id)


def _planned(
    people: People, projects: Sequence[Project], days_ago: int, *, way: str = ""
) -> CutPlan:
    """An approved plan; with a `way` the one that the teacher chose instead of the usual."""
    with on_day(days_ago, hour=11):
        plan = place_here(projects, acting=people.teacher)
        if way:
            work_out_ways(plan)
            plan = choose_way(plan, way, acting=people.teacher)
        return approve_plan(plan, acting=people.teacher)


def _issued(people: People, plan: CutPlan, days_ago: int) -> None:
    with on_day(days_ago, hour=9):
        issue_plan(plan, acting=people.teacher)


def _steps(people: People, project: Project, days_ago: int, *, upto: str = "") -> None:
    """Sign every step before `upto` (all of them without it), with the waiting they need."""
    hour = 9
    for step in project.bench_steps.order_by("number"):
        if step.kind == upto:
            return
        with on_day(days_ago, hour=hour):
            start_step(step, acting=project.student)
        with on_day(days_ago, hour=hour, minute=40):
            step.refresh_from_db()
            sign_done(step, acting=project.student)
            step.refresh_from_db()
            if step.teacher_signs:
                check_step(step, acting=people.teacher)
        hour += 1


def _made(people: People, project: Project, days_ago: int) -> None:
    _lend_permits(people, project, days_ago)
    _steps(people, project, days_ago)


def _lend_permits(people: People, project: Project, days_ago: int) -> None:
    """Who lacks a permit gets it before the step that needs it, as the rule wants."""
    codes = sorted({code for step in project.bench_steps.all() for code in step.permits})
    lend(people, [project.student], codes, days_ago)


def _ask_for_check(people: People, project: Project, kind: str) -> None:
    _lend_permits(people, project, 2)
    step = project.bench_steps.get(kind=kind)
    with on_day(1, hour=10):
        start_step(step, acting=project.student)
        step.refresh_from_db()
        sign_done(step, acting=project.student)


def _start_drying(people: People, project: Project) -> None:
    """The paper dries just now: the wait is still running when the demo is first opened."""
    _lend_permits(people, project, 1)
    _steps(people, project, 1, upto="dry")
    start_step(project.bench_steps.get(kind="dry"), acting=project.student)


def _closed(people: People, plan: CutPlan, days_ago: int, *, loss_g: str) -> None:
    """Every offcut came back; the scrap weighs what it should, less `loss_g` on the floor."""
    outs = at_the_bench(plan).outs
    offcuts = sum(leaf.outline.area for out in outs for leaf in out.leaves)
    scrap_mm2 = sum(out.area_mm2 - out.pieces_mm2 - out.kerf_mm2 for out in outs) - offcuts
    expected = plan.metal.mass_g(scrap_mm2)
    with on_day(days_ago, hour=15):
        close_plan(
            plan,
            acting=people.teacher,
            offcuts_kept=every_offcut(plan),
            scrap_mass_g=max(Decimal(0), round(Decimal(expected), 1) - Decimal(loss_g)),
            place="rack, offcut drawer",
        )
