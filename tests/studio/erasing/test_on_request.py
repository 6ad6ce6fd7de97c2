"""One named student is erased on request: no name is left, and the books still add up."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.db import models
from django.test import Client
from django.urls import reverse
from shapely.geometry import LineString, box

from classroom.erasing import Request, erase_on_request, keepings, look_at
from classroom.files.waiting_files import set_aside
from classroom.models import (
    BenchPermit,
    Erasure,
    History,
    Seat,
    SignInCount,
    Topic,
    User,
    record,
    subject_of,
)
from classroom.people.class_list import come_back, rename
from classroom.refusals import Refused
from classroom.safety.guardians import record_signatures, take_back
from classroom.safety.permits import give_permit, withdraw
from classroom.signin.passphrases import issue_cards
from inventory.models import BudgetEntry, Metal, MetalPrice, ScrapSale, StockMovement
from inventory.spending import ledger
from studio.core.drawing import Drawing
from studio.core.reading import Asked, Upload
from studio.models import (
    BuilderDraft,
    CutPlan,
    Errand,
    Layout,
    Pattern,
    PlanProject,
    Project,
    Quote,
    SignOff,
    TrialLayout,
    UploadTally,
)
from studio.steps.bench.sign import override_step
from studio.steps.patterns.read_in import read_in
from studio.steps.patterns.sheet_picture import keep_paper
from studio.steps.patterns.start_project import start_project
from studio.steps.rack.give_back import close_plan, every_offcut
from tests.classroom.passing import pass_questions
from tests.classroom.safety.incidents import make_incident
from tests.clocks import MORNING, stopped_at
from tests.people import PASSPHRASE, Cast, signed_in
from tests.studio.bench.making import World, make_world, step_of

clock = stopped_at(MORNING, always=True)


TODAY = dt.date(2026, 11, 25)
FILE = b"""<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">
<g id="layer-of-wrensong"><path d="M5 5H35V25H5Z" fill="none" stroke="#000"/></g></svg>"""
LETTER = b"handwriting of wrensong"
ASKED = Request("guardian", TODAY, "letter of Wren T in folder 3", ("Wrensong",))
NEEDLES = ("wren t", "wren.t", "wrensong", "roster-7731")
"""Every text below that could point to the student has one of these in it."""


@pytest.fixture
def world(cast: Cast, tmp_path: Path, settings: object) -> World:
    """A student who has left something of themselves in every corner of the house."""
    settings.EVIDENCE_DIR = tmp_path  # type: ignore[attr-defined]
    world = make_world(cast, sheets=2)
    owner, teacher = cast.owner, cast.teacher
    User.objects.filter(pk=owner.pk).update(roster_id="roster-7731", language="es")
    owner.refresh_from_db()
    topic = Topic.objects.get(school=cast.school, code="saw-frame")
    pass_questions(owner, topic)
    permit = give_permit(owner, topic, acting=teacher, remark="Wrensong is left-handed")
    withdraw(permit, acting=teacher, reason="Wrensong forgot the goggles")
    record_signatures([owner], signed_on=TODAY, acting=teacher)
    take_back(owner, acting=teacher, reason="the family of Wren T asked")
    make_incident(
        cast, happened_at=MORNING - dt.timedelta(hours=2), what="Wren T dropped the saw on a foot"
    )
    made = world.project(cast.seat)
    Project.objects.filter(pk=made.pk).update(title="Wrensong heart")
    pattern = made.patterns.get()
    pattern.file.save("x.png", ContentFile(LETTER), save=False)
    pattern.file_name, pattern.remark = "wrensong-letter.png", "Wrensong, make the neck wider"
    pattern.recipe = {"steps": [{"text": "WRENSONG"}]}
    pattern.relabels = {"a": "wrensong"}
    source = {"kind": "scan", "units": "mm", "scale_from": "frame", "width_mm": 9, "height_mm": 9}
    line = {"id": "a", "points": [[0, 0], [3, 0]], "closed": False, "name": "Wrensong"}
    pattern.tracing = {"source": source, "lines": [line], "findings": []}
    (piece,) = pattern.drawing.pieces
    stamped = replace(piece, surface_lines=(LineString([(2, 2), (8, 2)]),))
    pattern.drawing_json = Drawing((stamped,)).to_json()
    pattern.save()
    keep_paper(pattern, LETTER)
    plan = world.issued(Project.objects.get(pk=made.pk))
    override_step(step_of(made, "prepare"), acting=teacher, reason="Wrensong knows how")
    Project.objects.filter(pk=made.pk).update(stage=Project.Stage.MADE)
    close_plan(
        plan,
        acting=teacher,
        offcuts_kept=every_offcut(plan),
        scrap_mass_g=Decimal("2.50"),
        remark="Wren T swept up",
    )
    world.brief.pk, world.brief._state.adding = None, True
    world.brief.save()
    draft = start_project(world.brief, cast.seat, acting=owner)
    Project.objects.filter(pk=draft.pk).update(title="Wrensong two")
    read_in(draft, Upload(FILE, Asked("wrensong.svg")), acting=owner)
    BuilderDraft.objects.create(project=draft, recipe={"steps": [{"text": "WRENSONG"}]})
    set_aside(owner, draft, LETTER, file_name="wrensong.png", shown=LETTER)
    errand(owner, "wrensong.png")
    errand(teacher, "Record: Wren T", kind=Errand.Kind.PRINT)
    ledger.allot(
        ledger.open_budget(cast.course), Decimal(5), acting=teacher, reason="gift of Wren T"
    )
    record(teacher, "note", cast.course, "WREN T and Odd F sat together", who=["Wren T"])
    return world


def errand(owner: User, title: str, kind: str = Errand.Kind.PATTERN) -> Errand:
    one = Errand(owner=owner, kind=kind, title=title, back="/", state=Errand.State.DONE)
    one.result.save("result", ContentFile(LETTER), save=False)
    one.asked = {"title": title}
    one.save()
    return one


def erase(world: World, typed: str = "wren t") -> Erasure:
    return erase_on_request(world.cast.owner, ASKED, typed=typed, acting=world.cast.teacher)


def leftovers() -> list[str]:
    """Where any row of the database or any kept file still says who it was."""
    found = []
    for model in apps.get_models():
        for row in model._base_manager.all():
            for field in model._meta.concrete_fields:
                said = str(field.value_from_object(row)).casefold()
                found += [f"{model.__name__}.{field.name}" for one in NEEDLES if one in said]
    for file in Path(settings.EVIDENCE_DIR).rglob("*"):
        if file.is_file() and b"wrensong" in file.read_bytes():
            found.append(file.name)
    return found


KEPT = (
    BenchPermit, BudgetEntry, StockMovement, Quote, SignOff, CutPlan, Project, Pattern, Seat, User,
)  # fmt: skip


def test_nothing_says_any_more_who_it_was(
    world: World, django_capture_on_commit_callbacks: object
) -> None:
    before = {model.__name__: model._base_manager.count() for model in KEPT}
    money = list(BudgetEntry.objects.order_by("pk").values_list("amount", "kind"))
    assert len(set(leftovers())) > 20
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        erase(world)
    assert leftovers() == []
    assert {model.__name__: model._base_manager.count() for model in KEPT} == before
    assert list(BudgetEntry.objects.order_by("pk").values_list("amount", "kind")) == money
    out = StringIO()
    call_command("audit_stock", stdout=out)  # a difference would end it with an error
    said = " ".join(History.objects.values_list("text", flat=True))
    assert f"Former student {world.cast.owner.pk} and Odd F sat together" in said
    assert "Odd F" in said


def test_the_outline_of_what_was_sawn_stays_and_its_pages_open(world: World) -> None:
    erase(world)
    sawn, draft = Pattern.objects.order_by("pk")
    assert [piece.id for piece in sawn.drawing.pieces] == ["1"]
    assert sawn.drawing.pieces[0].surface_lines == ()
    assert draft.drawing.pieces == ()
    assert draft.state == Pattern.State.ASIDE
    assert set(Project.objects.values_list("stage", flat=True)) == {"closed"}
    teacher, plan = signed_in(world.cast.teacher), CutPlan.objects.get()
    label = f"Former student {world.cast.owner.pk}"
    for name, pk in (
        ("plan", plan.pk),
        ("plan_return", plan.pk),
        ("cut_plan_print", plan.pk),
        ("project", sawn.project_id),
        ("pattern", sawn.pk),
        ("pattern", draft.pk),
        ("seat", world.cast.seat.pk),
        ("student_record", world.cast.seat.pk),
        ("student_review", world.cast.seat.pk),
        ("course_review", world.cast.course.pk),
        ("class_bench", world.cast.course.pk),
    ):
        answer = teacher.get(reverse(name, args=[pk]))
        assert answer.status_code == 200, name
        assert "Wren" not in answer.content.decode(), name
    assert label in teacher.get(reverse("plan", args=[plan.pk])).content.decode()
    assert teacher.get(reverse("pattern_file", args=[sawn.pk])).status_code == 404


def test_the_student_is_signed_out_everywhere(world: World, client: Client) -> None:
    owner = world.cast.owner
    client.post("/sign-in/", {"username": owner.username, "password": PASSPHRASE})
    assert client.get("/me/").status_code == 200
    assert look_at(owner).goes["places where they are signed in now"] == 1
    erase(world)
    assert not Session.objects.exists()
    assert client.get("/me/").status_code == 302
    assert not SignInCount.objects.exclude(account="").exists()
    assert not UploadTally.objects.filter(owner=owner).exists()
    assert not world.cast.course.seats.filter(student=owner, left_at=None).exists()


def test_the_record_tells_what_went_and_nobodys_name(world: World) -> None:
    goes = look_at(world.cast.owner).goes
    assert (goes["pattern files"], goes["pictures of the paper"]) == (2, 1)
    assert goes["titles of projects"] == 2
    made = erase(world)
    assert made.erased.items() >= goes.items()
    assert made.kept["sign-offs"] == 1
    assert (made.asked_by, made.asked_on, made.done_by) == ("guardian", TODAY, world.cast.teacher)
    assert made.remark == f"letter of Former student {world.cast.owner.pk} in folder 3"
    page = signed_in(world.cast.teacher).get(reverse("erasure_print", args=[made.pk]))
    said = page.content.decode()
    assert "Pattern files" in said
    assert "a parent or guardian" in said
    assert "28 days" in said
    spanish = signed_in(world.cast.teacher).get(
        reverse("erasure_print", args=[made.pk]) + "?lang=es"
    )
    assert "Archivos de patrones" in spanish.content.decode()


def test_who_asked_and_when_is_corrected_by_an_entry_of_its_own(world: World) -> None:
    made = erase(world)
    client = signed_in(world.cast.teacher)
    address = reverse("erasure_correct", args=[made.pk])
    page = client.get(address).content.decode()
    assert f'value="{TODAY.isoformat()}"' in page
    sent = {"asked_by": "student", "asked_on": "2026-09-01", "reason": "the letter is older"}
    late = client.post(address, sent | {"asked_on": "2999-01-01"}).content.decode()
    assert "still to come" in late
    record = client.post(address, sent, follow=True).content.decode()
    assert "the student, 2026-09-01" in record
    assert "the letter is older" in record
    assert f"a parent or guardian, {TODAY.isoformat()}" in record  # what it said at first
    made.refresh_from_db()
    assert (made.asked_by, made.asked_on) == ("guardian", TODAY)
    client.post(address, sent)
    assert made.corrections.count() == 1  # it stood so already


def test_a_former_student_gets_no_name_place_or_card_again(cast: Cast) -> None:
    made = erase_on_request(cast.owner, ASKED, typed="Wren T", acting=cast.teacher)
    person, seat = made.student, Seat.objects.get(pk=cast.seat.pk)
    for deed in (
        lambda: rename(person, display_name="Wren T", roster_id="", acting=cast.teacher),
        lambda: come_back(seat, acting=cast.teacher),
        lambda: issue_cards([User.objects.get(pk=person.pk)], acting=cast.teacher),
    ):
        with pytest.raises(Refused, match="was erased"):
            deed()
    page = signed_in(cast.teacher).get(reverse("seat", args=[seat.pk])).content.decode()
    assert "The name was erased on" in page
    assert "Take back" not in page
    assert "New sign-in card" not in page


@pytest.mark.parametrize(
    ("state", "said"),
    [
        (CutPlan.State.ISSUED, "take it back and close the plan"),
        (CutPlan.State.APPROVED, "reserves metal"),
        (CutPlan.State.PROPOSED, "Drop cut plan"),
        (CutPlan.State.PLACING, "Drop cut plan"),
    ],
)
def test_not_while_metal_or_a_plan_is_with_the_student(cast: Cast, state: str, said: str) -> None:
    world = make_world(cast)
    plan = world.plan([world.project(cast.seat, box(0, 0, 30, 20))])
    CutPlan.objects.filter(pk=plan.pk).update(state=state, issued_at=MORNING, approved_at=MORNING)
    with pytest.raises(Refused, match=said):
        erase(world)
    page = signed_in(cast.teacher).get(reverse("student_erase", args=[cast.owner.pk]))
    assert said in page.content.decode()
    assert User.objects.get(pk=cast.owner.pk).display_name == "Wren T"


@pytest.mark.parametrize("who", ["other_teacher", "outsider", "owner"])
def test_only_who_looks_after_the_school_erases(cast: Cast, who: str) -> None:
    with pytest.raises(Refused, match="look after"):
        erase_on_request(cast.owner, ASKED, typed="Wren T", acting=getattr(cast, who))


def test_a_slip_of_the_hand_erases_nobody(cast: Cast) -> None:
    for typed in ("", "Wren", "Odd F"):
        with pytest.raises(Refused, match="not the name"):
            erase_on_request(cast.owner, ASKED, typed=typed, acting=cast.teacher)
    with pytest.raises(Refused, match="Only a student"):
        erase_on_request(cast.teacher, ASKED, typed="Marit Quay", acting=cast.teacher)
    later = replace(ASKED, asked_on=TODAY + dt.timedelta(days=1))
    with pytest.raises(Refused, match="future"):
        erase_on_request(cast.owner, later, typed="Wren T", acting=cast.teacher)
    erase_on_request(cast.owner, ASKED, typed=" WREN.T", acting=cast.teacher)
    with pytest.raises(Refused, match="already"):
        erase_on_request(cast.owner, ASKED, typed="Wren T", acting=cast.teacher)


def test_a_name_that_two_bear_stays_in_texts_about_others(cast: Cast) -> None:
    User.objects.create_user("wren.2", display_name="Wren T", school=cast.school, role="student")
    record(cast.teacher, "note", cast.course, "Wren T and Odd F sat together")
    record(cast.teacher, "note", cast.owner, "Wren T was praised")
    erase_on_request(cast.owner, replace(ASKED, spellings=()), typed="wren.t", acting=cast.teacher)
    texts = set(History.objects.values_list("text", flat=True))
    assert "Wren T and Odd F sat together" in texts
    assert f"Former student {cast.owner.pk} was praised" in texts


def test_another_schools_texts_are_not_touched(cast: Cast) -> None:
    record(cast.outsider, "note", cast.outsider, "Wren T is a boat here")
    erase_on_request(cast.owner, ASKED, typed="Wren T", acting=cast.teacher)
    assert History.objects.filter(text="Wren T is a boat here").exists()


def test_the_keeper_finds_looks_and_erases_in_the_browser(world: World) -> None:
    owner, client = world.cast.owner, signed_in(world.cast.teacher)
    found = client.get(reverse("old_names"), {"q": "wren"}).content.decode()
    url = reverse("student_erase", args=[owner.pk])
    assert url in found
    assert url in client.get(reverse("seat", args=[world.cast.seat.pk])).content.decode()
    page = client.get(url).content.decode()
    for words in ("Pattern files", "Sign-offs", "28 days from now", "Record as a PDF"):
        assert words in page
    sent = {"asked_by": "student", "asked_on": "2026-11-25", "typed": "wren t", "spellings": "x"}
    assert "too short" in client.post(url, sent).content.decode()
    said = client.post(url, sent | {"spellings": "", "typed": "Wren"}).content.decode()
    assert "not the name" in said
    done = client.post(url, sent | {"spellings": "Wrensong, Wrenny"}, follow=True)
    assert done.status_code == 200
    assert subject_of(owner) in set(
        History.objects.filter(verb="erase-name").values_list("subject", flat=True)
    )
    assert client.get(url).status_code == 404
    listed = client.get(reverse("old_names")).content.decode()
    assert "asked for by the student" in listed


NOT_TYPED = {
    # names of people and accounts: the person's own row is rewritten
    "User", "School", "History", "Session",
    # nothing that people type about students: words of lessons, papers, plans and machines
    "Topic", "TopicWording", "QuestionAttempt", "BackupRun", "PrinterCheck", "SignInCount",
    "Metal", "Consumable", "LabelSeries", "StepWording", "BenchStep", "CutPlan", "PlacingJob",
    "PlacingSettings", "Quote", "QuoteLine", "WorkerSign", "BenchTablet", "TabletDeed",
    "SentForm", "TrialLayout", "StockStep", "WayTry",
    # the student's own go whole, others' within hours
    "WaitingFile", "Errand", "BuilderDraft", "PracticeTry",
}  # fmt: skip
NOT_TYPED_FIELDS = {
    # what the program writes down itself: counts, keys, causes, codes and sums of files
    "Erasure": {"erased", "kept"},
    "BudgetEntry": {"cause"},
    "ScrapSale": {"alloy_code"},
    "ScrapEntry": {"alloy_code", "cause"},
    "StockPiece": {"code", "outline", "rough_edges"},
    "StockMovement": {"cause"},
    "SupplyMovement": {"cause"},
    "CountedPiece": {"booked"},
    "SignOff": {"set_aside", "wording_sha"},
    "StockSignOff": {"set_aside", "wording_sha"},
    "PartEntry": {"outline"},
    # chosen from lists
    "Brief": {"blade", "teacher_signs"},
    # the maker's address and the file's sum
    "Substance": {"language", "sheet_link", "sheet_sha"},
    # the student's own are emptied whole
    "Pattern": {
        "sha256", "tracing", "relabels", "changes", "recipe", "drawing_json", "findings_json",
        "mark",
    },
    # places, figures and keys that the program writes down itself
    "Layout": {
        "job", "placements", "pinned", "past", "future", "last_key", "figures", "beside",
        "cuts",
    },
    "PlanProject": {"layout_told"},
}  # fmt: skip


def test_every_free_text_of_the_house_is_searched_or_said_not_to_be() -> None:
    searched = {
        model.__name__: set(fields)
        for one in keepings.values()
        for model, (_, fields) in one.searched.items()
    }
    assert not searched.keys() & NOT_TYPED
    free = (models.CharField, models.TextField, models.JSONField)
    for label in ("classroom", "inventory", "studio"):
        for model in apps.get_app_config(label).get_models():
            name = model.__name__
            fields = {
                field.name
                for field in model._meta.concrete_fields
                if isinstance(field, free) and not field.choices
            }
            left = fields - searched.get(name, set()) - NOT_TYPED_FIELDS.get(name, set())
            if name not in NOT_TYPED:
                assert not left, (name, left)


def test_a_name_in_the_reason_of_a_corrected_price_or_sale_goes(world: World) -> None:
    school, teacher, metal = world.cast.school, world.cast.teacher, Metal.objects.all()[0]
    price = MetalPrice(
        metal=metal, amount=1, width_mm=9, height_mm=9, dated=TODAY, recorded_by=teacher
    )
    price.reason = "Wren T read it wrong"
    price.save()
    sale = ScrapSale(school=school, alloy_code="copper", mass_g=1, amount=0, sold_on=TODAY)
    sale.actor, sale.reason = teacher, "Wren T weighed it"
    sale.save()
    letter = replace(ASKED, spellings=(), remark="one letter for Odd F and Wren T")
    sibling = erase_on_request(world.cast.classmate, letter, typed="Odd F", acting=teacher)
    erase(world)
    for row in (price, sale):
        row.refresh_from_db()
        assert row.reason.startswith("Former student")
    sibling.refresh_from_db()
    assert "Wren T" not in sibling.remark


@pytest.mark.parametrize("shared", [False, True])
def test_papers_of_others_stay_where_the_name_is_only_part_of_a_word(
    cast: Cast, shared: bool
) -> None:
    User.objects.filter(pk=cast.owner.pk).update(display_name="Ann")
    if shared:
        User.objects.create_user("ann.2", display_name="ann", school=cast.school, role="student")
        User.objects.create_user("ann.3", display_name="Ann", school=cast.school, role="student")
    other = errand(cast.teacher, "Record: Joanna", kind=Errand.Kind.PRINT)
    hers = errand(cast.teacher, "Record: Ann", kind=Errand.Kind.PRINT)
    request = replace(ASKED, spellings=())
    erase_on_request(cast.owner, request, typed=cast.owner.username, acting=cast.teacher)
    assert Errand.objects.filter(pk=other.pk).exists()
    assert Errand.objects.filter(pk=hers.pk).exists() is shared


def test_layouts_go_but_for_those_that_a_plan_has_taken(world: World) -> None:
    project = Project.objects.filter(seat=world.cast.seat, plan_shares__isnull=False).first()
    assert project is not None
    common = {"project": project, "owner": world.cast.owner, "job": {}}
    taken = Layout.objects.create(number=1, name="Wrensong’s best", past=[{}], **common)
    Layout.objects.create(number=2, name="Wrensong’s second", **common)
    PlanProject.objects.filter(project=project).update(layout=taken)
    TrialLayout.objects.create(pattern=project.patterns.first(), key="a", job={})
    erase(world)
    left = Layout.objects.get()
    assert (left.pk, left.name, left.past) == (taken.pk, "", [])
    assert not TrialLayout.objects.exists()
