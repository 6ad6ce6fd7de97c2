"""A course's metal budget: the only place that writes to it.

    left = allotted - committed - charged + credited

Every booking is one conditional UPDATE (the database decides, so that two at once cannot both
take the last money) and one entry that is never changed. The running totals equal the sum of
the entries; `audit` proves it. A booking belongs into the caller's transaction, together with
what it pays for.

Nothing may take `left` below zero, except a commitment or charge for which a teacher gives a
reason: then an entry of kind "overdraw" allows just what is missing. Money that comes in later
ends that allowance as far as it is no longer needed, again by an entry.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from django.db import transaction
from django.db.models import F, Q, Sum
from django.db.models.functions import Round
from django.db.models.query import QuerySet

from classroom.models import Course, User, record, subject_of
from classroom.refusals import Refused
from inventory.models import Budget, BudgetEntry, BudgetTransfer

from .money import CENT, MOST_IN_ALL, whole_cents
from .sums import budget_faults

Kind = BudgetEntry.Kind
TRIES: Final = 20
"""How often a booking that overdraws is begun anew when others book at the same moment."""
_OWED = F("committed") + F("charged") - F("credited")


class OverBudget(Refused):
    """The budget holds less than is asked for; says what is left and what is missing."""

    def __init__(self, *, asked: Decimal, left: Decimal, currency: str) -> None:
        self.asked = asked
        self.left = left
        self.missing = asked - max(left, Decimal(0))
        super().__init__(
            f"Over budget: this needs {asked:,.2f} {currency}, and {left:,.2f} {currency} is left, "
            f"so {self.missing:,.2f} {currency} is missing. Allot more, make it cheaper, or "
            "overdraw with a reason."
        )


def open_budget(course: Course) -> Budget:
    """The course's budget; the first call makes an empty one."""
    budget, _ = Budget.objects.get_or_create(course=course)
    return budget


@transaction.atomic
def allot(budget: Budget, amount: Decimal | int, *, acting: User, reason: str) -> BudgetEntry:
    """Put money into the budget, or take unused money back with a negative amount.

    Raises Refused for nothing at all, and when more is taken back than is left.
    """
    value = whole_cents(amount, least=-MOST_IN_ALL)
    if value == 0:
        raise Refused("Allot something, or take something back: nothing is not an entry.")
    entry = _allot(budget, value, acting, reason, "")
    amount_text = f"{abs(value):,.2f} {budget.course.school.currency}"
    record(
        acting,
        "allot",
        budget.course,
        f"allotted {amount_text}" if value > 0 else f"took back {amount_text}",
        reason=entry.reason,
    )
    return entry


@transaction.atomic
def take_in(budget: Budget, amount: Decimal, *, acting: User, reason: str, cause: str) -> None:
    """Money that something brought, such as scrap that was sold, is allotted to the budget."""
    _allot(budget, _wanted(amount, cause), acting, reason, cause)


@transaction.atomic
def take_back(budget: Budget, amount: Decimal, *, acting: User, reason: str, cause: str) -> None:
    """Money that came in by mistake leaves the budget. Raises Refused when less is left."""
    _allot(budget, -_wanted(amount, cause), acting, reason, cause)


@transaction.atomic
def transfer(
    source: Budget, target: Budget, amount: Decimal | int, *, acting: User, reason: str
) -> BudgetTransfer:
    """Move unused money from one budget of the school to another: both, or neither.

    Raises Refused when less is left in `source`, or the two are one or of two schools.
    """
    value = whole_cents(amount, least=CENT)
    if source.pk == target.pk:
        raise Refused("Choose another course: money is not moved within one budget.")
    if source.course.school_id != target.course.school_id:
        raise Refused("Money is moved between courses of one school only.")
    made = BudgetTransfer.objects.create(
        source=source, target=target, amount=value, actor=acting, reason=_why(reason)
    )
    cause = subject_of(made)
    sides = [
        (source, -value, f"to {target.course}: {reason}"),
        (target, value, f"from {source.course}: {reason}"),
    ]
    # In the order of their keys, so that two transfers across each other cannot lock up.
    for budget, amount_here, why in sorted(sides, key=lambda side: side[0].pk):
        _allot(budget, amount_here, acting, why, cause)
    text = f"moved {value:,.2f} {source.course.school.currency}"
    record(acting, "transfer", source.course, f"{text} to {target.course}", reason=made.reason)
    record(acting, "transfer", target.course, f"{text} from {source.course}", reason=made.reason)
    return made


def _allot(budget: Budget, value: Decimal, acting: User, reason: str, cause: str) -> BudgetEntry:
    rows = _rows(budget).filter(allotted__lte=MOST_IN_ALL - max(value, Decimal(0)))
    if value < 0:
        rows = rows.filter(allotted__gte=Round(_OWED - value, 2))
    if not rows.update(allotted=Round(F("allotted") + value, 2)):
        left = Budget.objects.get(pk=budget.pk).left
        if value < 0 and left < -value:
            currency = budget.course.school.currency
            raise Refused(
                f"Only {max(left, Decimal(0)):,.2f} {currency} is left in the budget of "
                f"{budget.course}: no more than that can be taken out."
            )
        raise Refused("The budget's totals cannot grow that large.")
    entry = _enter(budget, Kind.ALLOTMENT, value, acting, reason, cause)
    _end_overdraft(budget, acting)
    return entry


@transaction.atomic
def commit(
    budget: Budget,
    amount: Decimal | int,
    *,
    acting: User,
    reason: str,
    cause: str,
    overdraw_reason: str = "",
) -> BudgetEntry:
    """Set money aside for `cause`. Raises OverBudget unless it is there or a reason is given."""
    value = _wanted(amount, cause)
    taken = _rows(budget).filter(
        allotted__gte=Round(_OWED + value, 2), committed__lte=MOST_IN_ALL - value
    )
    if taken.update(committed=Round(F("committed") + value, 2)):
        _end_overdraft(budget, acting)
    else:
        _overdraw(budget, "committed", value, acting, overdraw_reason, cause)
    return _enter(budget, Kind.COMMITMENT, value, acting, reason, cause)


@transaction.atomic
def release(
    budget: Budget, amount: Decimal | int, *, acting: User, reason: str, cause: str
) -> BudgetEntry:
    """Set free what was committed for `cause`. Raises Refused for more than that."""
    value = _wanted(amount, cause)
    freed = _rows(budget).filter(committed__gte=value)
    # The UPDATE comes first: it takes the row's lock, so that the sum below is the last word.
    if (
        not freed.update(committed=Round(F("committed") - value, 2))
        or committed_for(budget, cause) < value
    ):
        raise Refused(
            "Not that much is committed for this any more: somebody has released it already. "
            "Load the page again."
        )
    return _enter(budget, Kind.RELEASE, value, acting, reason, cause)


@transaction.atomic
def charge(
    budget: Budget,
    amount: Decimal | int,
    *,
    acting: User,
    reason: str,
    cause: str,
    overdraw_reason: str = "",
) -> BudgetEntry:
    """Spend money for `cause`; turn a commitment into a charge by `release` first.

    Raises OverBudget as `commit` does; but what a teacher has allowed to be overdrawn stays
    allowed when the commitment becomes the charge.
    """
    value = _wanted(amount, cause)
    spent = _rows(budget).filter(
        allotted__gte=Round(_OWED - F("overdraw_allowed") + value, 2),
        charged__lte=MOST_IN_ALL - value,
    )
    if not spent.update(charged=Round(F("charged") + value, 2)):
        _overdraw(budget, "charged", value, acting, overdraw_reason, cause)
    return _enter(budget, Kind.CHARGE, value, acting, reason, cause)


@transaction.atomic
def credit(
    budget: Budget, amount: Decimal | int, *, acting: User, reason: str, cause: str
) -> BudgetEntry:
    """Give back what was charged. Raises Refused for more than has been charged in all."""
    value = _wanted(amount, cause)
    given = _rows(budget).filter(charged__gte=Round(F("credited") + value, 2))
    if not given.update(credited=Round(F("credited") + value, 2)):
        raise Refused("No more can be credited than has been charged to this budget.")
    return _enter(budget, Kind.CREDIT, value, acting, reason, cause)


@transaction.atomic
def choose_policy(budget: Budget, policy: str, *, acting: User) -> bool:
    """What projects pay for metal in plans priced from now on; False when it was so already."""
    wanted = Budget.CostPolicy(policy)
    if not _rows(budget).exclude(cost_policy=wanted).update(cost_policy=wanted):
        return False
    record(acting, "cost-policy", budget.course, f"projects pay for {wanted.label}")
    return True


def committed_for(budget: Budget, cause: str) -> Decimal:
    """What is still set aside for `cause`."""
    entries = budget.entries.filter(cause=cause)
    return _sum(entries, Kind.COMMITMENT) - _sum(entries, Kind.RELEASE)


def audit(budget: Budget) -> list[str]:
    """What does not add up, in words; an empty list when all totals equal their entries."""
    budget = Budget.objects.get(pk=budget.pk)
    entries = budget.entries.all()
    return budget_faults(budget, {kind: _sum(entries, kind) for kind in Kind.values})


def _rows(budget: Budget) -> QuerySet[Budget]:
    return Budget.objects.filter(pk=budget.pk)


def _wanted(amount: Decimal | int, cause: str) -> Decimal:
    if not cause.strip():
        raise ValueError("A booking names its cause: subject_of(plan).")
    return whole_cents(amount)


def _overdraw(
    budget: Budget, total: str, value: Decimal, acting: User, why: str, cause: str
) -> None:
    """Book `value` into `total` although it is not all there, and allow what is missing."""
    if not why.strip():
        _refuse(budget, value)
    for _ in range(TRIES):
        now = Budget.objects.get(pk=budget.pk)
        old = {
            name: getattr(now, name)
            for name in ("allotted", "committed", "charged", "credited", "overdraw_allowed")
        }
        missing = max(value - now.left - now.overdraw_allowed, Decimal(0))
        new = {total: old[total] + value, "overdraw_allowed": now.overdraw_allowed + missing}
        if max(new.values()) > MOST_IN_ALL:
            raise Refused("The budget's totals cannot grow that large.")
        if _rows(budget).filter(**old).update(**new):
            _enter(budget, Kind.OVERDRAW, missing, acting, why, cause)
            return
    raise Refused("Others are booking on this budget at this moment. Try again.")


def _end_overdraft(budget: Budget, acting: User) -> None:
    """There is money again: what is no longer overdrawn needs no allowance either."""
    now = Budget.objects.get(pk=budget.pk)  # the UPDATE before this holds the row's lock
    needed = max(-now.left, Decimal(0))
    if now.overdraw_allowed > needed:
        over = now.overdraw_allowed - needed
        _rows(budget).update(overdraw_allowed=needed)
        _enter(budget, Kind.OVERDRAW, -over, acting, "no longer overdrawn by as much", "")


def _refuse(budget: Budget, asked: Decimal) -> None:
    now = Budget.objects.select_related("course__school").get(pk=budget.pk)
    if now.left < asked:
        raise OverBudget(asked=asked, left=now.left, currency=now.course.school.currency)
    raise Refused("The budget's totals cannot grow that large.")


def _enter(
    budget: Budget, kind: str, amount: Decimal, acting: User, reason: str, cause: str
) -> BudgetEntry:
    entry = BudgetEntry.objects.create(
        budget_id=budget.pk,
        kind=kind,
        amount=amount,
        actor=acting,
        reason=_why(reason),
        cause=cause,
    )
    # The caller's budget shows the new totals without another look at the database row by row.
    budget.refresh_from_db(
        fields=["allotted", "committed", "charged", "credited", "overdraw_allowed"]
    )
    return entry


def _why(reason: str) -> str:
    why = " ".join(reason.split())
    if not why:
        raise Refused("Say why: every entry of a budget has a reason.")
    return why[:200]


def _sum(entries: QuerySet[BudgetEntry], kind: str) -> Decimal:
    total = entries.filter(Q(kind=kind)).aggregate(total=Sum("amount"))["total"]
    # SQLite adds decimals as floats; every entry is whole cents, so is their sum.
    return Decimal(0) if total is None else Decimal(total).quantize(CENT)
