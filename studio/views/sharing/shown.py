"""What the page of a stock piece that is passed on shows, to a student of it or to the teacher."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse
from django.utils.translation import get_language, gettext, gettext_noop

from classroom.models import User
from studio.core.bench.texts import DRY_MINUTES, SOAK_MINUTES, BenchStepKind
from studio.core.bench.times import HowLong, how_long
from studio.core.cutting.groups import group_of
from studio.core.picturing.plan import MetalPicture
from studio.forms.bench.signing import OverrideForm, SendBackForm
from studio.forms.sharing.handing import HandOnForm, LeaveOutForm, StandInForm
from studio.models import PlanProject, StockSignOff, StockStep
from studio.queries.shared_stock import (
    SharedStock,
    holders_in,
    letters_in,
    share_of,
    stock_sign_offs,
    who_may_stick,
)
from studio.steps.bench.obstacles import Obstacle, Rule
from studio.steps.bench.rules import Phase, clock, clock_at_end, title
from studio.steps.bench.shared_metal import letter_of
from studio.steps.bench.wording import frame_depth_mm
from studio.steps.plans.quote import pieces_of
from studio.steps.sharing import stock_rules
from studio.steps.sharing.stock_moves import stock_situation, stuck_shares
from studio.steps.sharing.stock_rules import StockSituation
from studio.steps.sharing.turns import begun_turns, groups_in_turn
from studio.telling.in_hands import InHands, in_hands
from studio.views.bench.shown import WORDS, rule_words
from studio.views.bench.step_art import Art, art_of
from studio.views.plans.figures import drawn

Bound = HandOnForm | StandInForm | LeaveOutForm | SendBackForm | OverrideForm

SIGNED: dict[str, str] = {
    StockSignOff.Kind.STARTED: gettext_noop("started “%(step)s”"),
    StockSignOff.Kind.STUCK: gettext_noop("stuck own papers on"),
    StockSignOff.Kind.DONE: gettext_noop("signed as done: “%(step)s”"),
    StockSignOff.Kind.CHECKED: gettext_noop("checked “%(step)s”"),
    StockSignOff.Kind.SENT_BACK: gettext_noop("sent “%(step)s” back"),
    StockSignOff.Kind.OVERRIDE: gettext_noop("lifted a rule for “%(step)s”"),
}


@dataclass(frozen=True, slots=True)
class Button:
    """Where it sends, what stands on it, and what is signed with it."""

    url: str
    label: str
    text: str = ""


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
class StockStepShown:
    """One step of the whole stock piece, and what this person can do about it now."""

    step: StockStep
    phase: Phase
    obstacles: list[Obstacle]
    clock: dt.datetime
    sent_back: StockSignOff | None = None
    may_start: bool = False
    may_sign: bool = False
    may_stick: bool = False
    may_check: bool = False
    back_form: SendBackForm | None = None
    override_form: OverrideForm | None = None
    bound: bool = False
    pictures: tuple[()] = ()
    orders: tuple[()] = ()
    how_long: HowLong | None = None

    @property
    def words(self) -> dict[str, Any]:
        return self.step.words_in(get_language() or "en")

    @property
    def title(self) -> str:
        return title(self.step)

    @property
    def status_kind(self) -> str:
        return WORDS[self.phase][0]

    @property
    def status_word(self) -> str:
        return gettext(WORDS[self.phase][1])

    @property
    def waits(self) -> bool:
        return self.phase is Phase.WAITING

    @property
    def wait_is_over(self) -> bool:
        return self.step.wait_until is not None and self.phase is Phase.AT_WORK

    @property
    def until(self) -> str:
        end = self.step.wait_until
        return clock_at_end(end, self.clock) if end is not None else ""

    @property
    def signed_at(self) -> str:
        signed = self.step.student_signed_at
        return clock(signed, self.clock) if signed is not None else ""

    @property
    def art(self) -> tuple[Art, ...]:
        return art_of(self.step.kind)

    @property
    def is_saw(self) -> bool:
        return False

    @property
    def is_soak(self) -> bool:
        return False

    @property
    def is_sticking(self) -> bool:
        return self.step.kind == BenchStepKind.ADHERE

    @property
    def button(self) -> Button | None:
        """The one thing to press now."""
        if self.may_start:
            label = gettext("Start this step for all")
            if self.step.wait_minutes:
                said = {"count": self.step.wait_minutes}
                label = gettext("Start the waiting time: %(count)s min") % said
            return Button(reverse("stock_step_start", args=[self.step.pk]), label)
        if self.may_stick:
            return Button(
                reverse("papers_stick", args=[self.step.pk]),
                gettext("My papers are stuck on"),
                gettext(
                    "With this you sign: my own papers are on, in their place, as described here."
                ),
            )
        if self.may_sign:
            return Button(
                reverse("stock_step_done", args=[self.step.pk]),
                gettext("Done: I sign this step"),
                gettext(
                    "With this you sign: I did it as described here and looked whether it is right."
                ),
            )
        return None

    @property
    def no_button(self) -> str:
        """Why there is nothing to press."""
        if self.waits:
            return gettext("It can be signed from %(time)s.") % {"time": self.until}
        if self.phase is Phase.TO_CHECK:
            return gettext("Show the metal to your teacher now.")
        if self.phase is Phase.AT_WORK and self.is_sticking and not self.obstacles:
            return gettext("It goes on when everybody's papers are on.")
        return gettext("You cannot go on yet: see what is missing above.")

    @property
    def begun(self) -> str:
        started = self.step.started_at
        return started.isoformat() if started else ""

    @property
    def seen(self) -> str:
        signed = self.step.student_signed_at
        return signed.isoformat() if signed else ""


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
    shown = [_step(user, step, on, own, stuck, backs.get(step.pk)) for step in on.steps]
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


def _step(
    user: User,
    step: StockStep,
    on: StockSituation,
    own: PlanProject | None,
    stuck: dict[int, StockSignOff],
    sent_back: StockSignOff | None,
) -> StockStepShown:
    phase = stock_rules.phase(step, on)
    obstacles: list[Obstacle] = []
    if phase in (Phase.BLOCKED, Phase.LATER):
        obstacles = stock_rules.to_start(step, on)
    elif phase in (Phase.AT_WORK, Phase.WAITING):
        found = stock_rules.to_finish(step, on)
        obstacles = [one for one in found if one.rule is not Rule.WAIT]
    kind = BenchStepKind(step.kind)
    one = StockStepShown(
        step,
        phase,
        [each for each in obstacles if each.rule is not Rule.STUCK],
        on.now,
        sent_back if phase in (Phase.READY, Phase.BLOCKED, Phase.AT_WORK, Phase.WAITING) else None,
        how_long=how_long(kind, (), step.wait_minutes),
    )
    if user.is_teacher or (own is not None and own.live):
        one.may_start = phase is Phase.READY
        one.may_sign = phase is Phase.AT_WORK and not obstacles  # with all papers on
    if own is not None and own.live and one.is_sticking and phase is Phase.AT_WORK:
        one.may_stick = own.pk not in stuck and not stock_rules.to_stick(step, on)
    if user.is_teacher:
        one.may_check = phase is Phase.TO_CHECK and not stock_rules.to_check(step, on)
        if not stock_rules.to_send_back(step, on):
            one.back_form = SendBackForm(auto_id=f"back-{step.pk}-%s")
        if phase not in (Phase.DONE, Phase.TO_CHECK) and on.metal_is_out:
            can_go_on = bool(stock_rules.set_aside_by_going_on(step, on))
            one.override_form = OverrideForm(auto_id=f"aside-{step.pk}-%s", can_go_on=can_go_on)
    return one


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
