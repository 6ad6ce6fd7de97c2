"""What a teacher can do with a cut plan now: one state, one partial template."""

from __future__ import annotations

from dataclasses import dataclass

from studio.models import CutPlan

State = CutPlan.State

FREED = "The metal goes back to the rack and the money that was set aside is free again."
PLACED_ANEW = "The projects can be placed anew."

TITLES = {
    "placing": "While it is placed",
    "broke_off": "Keep or try again",
    "beside": "Approve or not",
    "partial": "Approve or not",
    "taken": "Approve or not",
    "proposed": "Approve or not",
    "approved": "Hand out the metal",
    "issued": "What comes next",
    "closed": "What comes next",
    "dropped": "What comes next",
    "parted": "What comes next",
}
"""The heading of each state; its partial is `studio/plans/decide/<state>.html`."""


@dataclass(frozen=True, slots=True)
class Decision:
    """`drop_asks` is the question before the plan is dropped, empty where it no longer can be."""

    state: str
    drop_asks: str

    @property
    def title(self) -> str:
        return TITLES[self.state]

    @property
    def template(self) -> str:
        return f"studio/plans/decide/{self.state}.html"


def decision_on(plan: CutPlan, *, partial: bool, taken: bool) -> Decision:
    """`partial`: pieces are left over; `taken`: a stock piece is somebody else's by now."""
    return Decision(_state_of(plan, partial=partial, taken=taken), _drop_asks(plan))


def _state_of(plan: CutPlan, *, partial: bool, taken: bool) -> str:
    if plan.broke_off:
        return "broke_off"
    if plan.state != State.PROPOSED:
        return str(plan.state)
    if plan.rival_of_id:
        return "beside"
    if partial:
        return "partial"
    return "taken" if taken else "proposed"


def _drop_asks(plan: CutPlan) -> str:
    if plan.state == State.APPROVED:
        return f"{FREED} {PLACED_ANEW}"
    return PLACED_ANEW if plan.state in (State.PLACING, State.PROPOSED) else ""
