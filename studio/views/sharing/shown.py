"""What the page of a stock piece that is passed on shows, to a student of it or to the teacher."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext, gettext_noop

from classroom.models import User
from studio.core.bench.texts import DRY_MINUTES, SOAK_MINUTES, BenchStepKind
from studio.core.cutting.groups import group_of
from studio.core.picturing.plan import MetalPicture
from studio.forms.bench.signing import OverrideForm, SendBackForm
from studio.forms.sharing.handing import HandOnForm, LeaveOutForm, StandInForm
from studio.models import PlanProject, StockSignOff
from studio.queries.shared_stock import (
    SharedStock,
    holders_in,
    letters_in,
    share_of,
    stock_sign_offs,
    who_may_stick,
)
from studio.steps.bench.rules import title
from studio.steps.bench.shared_metal import letter_of
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.plans.quote import pieces_of
from studio.steps.sharing.stock_moves import stock_situation, stuck_shares
from studio.steps.sharing.stock_rules import StockSituation
from studio.steps.sharing.turns import begun_turns, groups_in_turn
from studio.telling.in_hands import InHands, in_hands
from studio.views.bench.shown import SIGNED as STUDENTS_OWN
from studio.views.bench.shown import rule_words
from studio.views.plans.figures import drawn

from .step_shown import StockStepShown, step_shown

Bound = HandOnForm | StandInForm | LeaveOutForm | SendBackForm | OverrideForm

SIGNED: dict[str, str] = STUDENTS_OWN | {
    StockSignOff.Kind.STUCK: gettext_noop("stuck own papers on")
}


@dataclass(frozen=True, slots=True)
class Notice:
    kind: str
    title: str
    text: str


@dataclass(frozen=True, slots=True)
class TurnShown:
    """One student of this metal: to classmates a letter and a turn, to the teacher a name too."""

    share: PlanProject
    letter: str
    kind: str
    word: str
    mine: bool
    name: str  # "" for classmates
    stuck: str  # "stuck on", by whom, or ""
    may_be_earlier: bool = False
    may_be_later: bool = False

    @property
    def turn(self) -> int:
        return self.share.turn


@dataclass(slots=True)
class PassedPage:
    """All of one stock piece."""

    stock: SharedStock
    on: StockSituation
    hands: InHands
    now: StockStepShown | None
    others: list[StockStepShown]
    turns: list[TurnShown]
    mine: TurnShown | None
    picture: MetalPicture | None
    notice: Notice | None
    forms: dict[str, Bound] = field(default_factory=dict)


def passed_context(
    user: User, stock: SharedStock, *, bound: Bound | None = None, step_pk: int = 0
) -> dict[str, Any]:
    """The page's context; `bound` came back with faults, for the step `step_pk` where it is of
    one."""
    page = _page(user, stock, bound, step_pk)
    plan = stock.plan_stock.plan
    own = share_of(user, stock)
    return {
        "page": page,
        "code": stock.plan_stock.stock_piece.code,
        "plan": plan,
        "school": plan.course.school,
        "is_teacher": user.is_teacher,
        "own_project": own.project_id if own is not None else 0,
        "dry_minutes": DRY_MINUTES,
        "soak_minutes": SOAK_MINUTES,
        "mine": {group_of(own.project_id)} if own is not None else set(),
        "held": list(_held(user, stock, page.hands)) if user.is_teacher else [],
        "diary": list(_diary(stock)) if user.is_teacher else [],
        "crumbs": _crumbs(user, stock, own),
    }


def _page(user: User, stock: SharedStock, bound: Bound | None, step_pk: int) -> PassedPage:
    letters = letters_in([stock.plan_stock.plan_id])
    on = stock_situation(stock, user)
    (hands,) = in_hands([stock], letters)
    backs = {
        row.step_id: row for row in reversed(stock_sign_offs(stock)) if row.kind == "sent_back"
    }
    own = share_of(user, stock)
    stuck = stuck_shares(on.steps)
    shown = [step_shown(user, step, on, own, stuck, backs.get(step.pk)) for step in on.steps]
    for one in shown:
        if one.step.pk == step_pk:
            one.bound = True
            if isinstance(bound, SendBackForm):
                one.back_form = bound
            elif isinstance(bound, OverrideForm):
                one.override_form = bound
    current = next((one for one in shown if one.bound), None) or next(
        (one for one in shown if one.step is on.current and on.metal_is_out), None
    )
    turns = _turns(user, stock, hands, stuck, letters)
    mine = next((one for one in turns if one.mine), None)
    page = PassedPage(
        stock,
        on,
        hands,
        current,
        [one for one in shown if one is not current],
        turns,
        mine,
        _picture(stock),
        notice_of(hands, mine, user) if on.metal_is_out else None,
    )
    if user.is_teacher and on.metal_is_out:
        page.forms = _forms(stock, hands, on, stuck, letters)
        for name, form in page.forms.items():
            if bound is not None and type(bound) is type(form):
                page.forms[name] = bound
    return page


def notice_of(hands: InHands, mine: TurnShown | None, user: User) -> Notice | None:
    """Who has the metal, and what that means for whoever looks; nothing while steps for all are
    still to be done."""
    if hands.step is not None:
        return None
    if hands.holding is None:
        if not user.is_teacher:
            return None
        text = gettext(
            "Name who works on it, so that the others see whose turn it is. Until then nobody is "
            "stopped."
        )
        return Notice("caution", gettext("Nobody has been named to have it"), text)
    since = {"since": hands.since, "letter": hands.holder_letter}
    if user.is_teacher and hands.holder is not None:
        since["letter"] = f"{hands.holder.project.student} ({hands.holder_letter})"
    if hands.holder is None:
        text = gettext("Nobody works on it until a teacher hands it on.")
        return Notice("info", gettext("On the shelf since %(since)s") % since, text)
    if mine is not None and hands.holder.pk == mine.share.pk:
        text = gettext(
            "Drill and saw your own pieces, all of them. Then give it to your teacher, who hands "
            "it on."
        )
        return Notice("done", gettext("The metal is yours now"), text)
    title = gettext("Student %(letter)s has the metal since %(since)s") % since
    if user.is_teacher:
        title = gettext("With %(letter)s since %(since)s") % since
    if mine is not None:
        text = gettext("Your own pieces are out of it.")
        if mine.kind not in ("done", "closed") and mine.turn:
            text = gettext("Your turn is number %(turn)s. Your teacher hands the metal on.")
        return Notice("info", title, text % {"turn": mine.turn})
    if hands.is_away:
        text = gettext(
            "Nothing has been signed on it for %(count)s school days. You can hand it on."
        )
        return Notice("caution", title, text % {"count": hands.holding.away})
    if hands.following is None:
        return Notice("info", title, gettext("Nobody else waits for it."))
    text = gettext("Next is %(student)s (%(letter)s).")
    named = {"student": hands.following.project.student, "letter": hands.following_letter}
    return Notice("info", title, text % named)


def _turns(
    user: User,
    stock: SharedStock,
    hands: InHands,
    stuck: dict[int, StockSignOff],
    letters: dict[tuple[int, str], str],
) -> list[TurnShown]:
    sawn = hands.sawn
    live = {share.pk for share in stock.live}
    begun = begun_turns(stock.live) if user.is_teacher else live
    # Turns are one order for the whole plan: who stands beside may lie on another stock piece.
    movable = [one.pk for one in stock.live if one.turn and one.pk not in begun]
    found = []
    for share in stock.shares:
        kind, word = _stands(share, hands, live, sawn)
        row = stuck.get(share.pk)
        found.append(
            TurnShown(
                share,
                letter_of(share, letters),
                kind,
                word,
                share.project.seat.student_id == user.pk,
                str(share.project.student) if user.is_teacher else "",
                _stuck_words(user, row) if row is not None else "",
                share.pk in movable[1:],
                share.pk in movable[:-1],
            )
        )
    return found


def _stands(share: PlanProject, hands: InHands, live: set[int], sawn: set[int]) -> tuple[str, str]:
    if share.left_out_at is not None:
        return "closed", gettext("Left out of this plan")
    if share.pk not in live:
        return "closed", gettext("Not at work any more")
    if share.project_id in sawn:
        if hands.holder is not None and hands.holder.pk == share.pk:
            return "done", gettext("Has sawn, and still has the metal")
        return "done", gettext("Has sawn")
    if hands.holder is not None and hands.holder.pk == share.pk:
        return "current", gettext("Has the metal")
    if hands.following is not None and hands.following.pk == share.pk:
        return "waiting", gettext("Next")
    return "locked", gettext("Later")


def _stuck_words(user: User, row: StockSignOff) -> str:
    if row.stand_in is not None and user.is_teacher:
        return gettext("papers stuck on by %(name)s") % {"name": row.stand_in}
    return gettext("papers stuck on")


def _forms(
    stock: SharedStock,
    hands: InHands,
    on: StockSituation,
    stuck: dict[int, StockSignOff],
    letters: dict[tuple[int, str], str],
) -> dict[str, Bound]:
    def named(shares: Iterable[PlanProject]) -> list[tuple[str, str]]:
        return [
            (str(one.pk), f"{letter_of(one, letters)}: {one.project.student}") for one in shares
        ]

    found: dict[str, Bound] = {}
    if on.current is None:
        found["hand_on"] = HandOnForm(
            people=named(one for one in stock.live if one != hands.holder),
            initial={
                "seen": hands.newest,
                "to": str(hands.following.pk) if hands.following is not None else "",
            },
            auto_id="hand-on-%s",
        )
    elif on.current.kind == BenchStepKind.ADHERE and on.current.started_at is not None:
        waiting = [one for one in stock.live if one.pk not in stuck]
        if waiting:
            found["stand_in"] = StandInForm(
                people=named(waiting), helpers=helpers_for(stock), auto_id="stand-in-%s"
            )
    untouched = [one for one in stock.live if one.project_id not in hands.begun]
    if untouched:
        found["leave_out"] = LeaveOutForm(people=named(untouched), auto_id="leave-out-%s")
    return found


def helpers_for(stock: SharedStock) -> list[tuple[str, str]]:
    """Who may be named to stick papers on: teachers and students of the course."""
    return [(str(one.pk), str(one)) for one in who_may_stick(stock)]


def _picture(stock: SharedStock) -> MetalPicture | None:
    plan = stock.plan_stock.plan
    if plan.laid is None:
        return None
    pictures = drawn(
        plan.asked,
        plan.laid,
        lambda: pieces_of(list(plan.shares.select_related("pattern"))),
        frame_depth_mm(plan.course.school),
        groups_in_turn(plan),
    )
    code = stock.plan_stock.stock_piece.code
    return next((one for one in pictures if one.code == code), None)


def _held(user: User, stock: SharedStock, hands: InHands) -> Iterable[dict[str, Any]]:
    """In whose hands it was, newest first, as the history of a page has it."""
    for row in holders_in(stock):
        what = gettext("laid it on the shelf")
        if row.share is not None:
            what = gettext("handed it to %(student)s") % {"student": row.share.project.student}
        yield {"when": row.at, "who": row.by, "what": what, "why": row.reason}


def _diary(stock: SharedStock) -> Iterable[dict[str, Any]]:
    names = {share.pk: share.project.student for share in stock.shares}
    for row in stock_sign_offs(stock):
        what = gettext(SIGNED[row.kind]) % {"step": title(row.step)}
        if row.stand_in is not None and row.share_id is not None:
            said = {"name": row.stand_in, "student": names.get(row.share_id, "")}
            what = gettext("let %(name)s stick the papers of %(student)s on") % said
        if row.set_aside:
            what += f" ({', '.join(rule_words(name) for name in row.set_aside)})"
        yield {"when": row.at, "who": row.by, "what": what, "why": row.reason}


def _crumbs(user: User, stock: SharedStock, own: PlanProject | None) -> list[dict[str, str]]:
    crumbs = []
    if own is not None:
        url = reverse("project", args=[own.project_id])
        crumbs.append({"label": str(own.project), "url": url})
        bench = reverse("bench", args=[own.project_id])
        crumbs.append({"label": gettext("At the bench"), "url": bench})
    else:
        course = stock.plan_stock.plan.course
        label = gettext("Class bench: %(course)s") % {"course": course}
        crumbs.append({"label": label, "url": reverse("class_bench", args=[course.pk])})
    return [*crumbs, {"label": stock.plan_stock.stock_piece.code, "url": ""}]
