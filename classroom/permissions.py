"""The only place that decides which role may do what.

A view is marked with `@requires(Action.X)`; a test walks every URL and reads that mark, so a
page without one is refused. *Which* objects a person may touch is decided by the scoped
queries in each app's `queries.py`; fetching through them is the access check.

Outsiders get 404 (from the queries), the wrong role 403 (from here), and people who are not
signed in are sent to the sign-in page.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import wraps
from typing import Any, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from .models import Role, User
from .signin.door import send_to_door

TEACHERS = frozenset({Role.TEACHER})
STUDENTS = frozenset({Role.STUDENT})
EVERYBODY = frozenset({Role.TEACHER, Role.STUDENT})


class Action(StrEnum):
    # anyone signed in
    SEE_FIRST_PAGE = "see first page"
    SEE_OWN_ACCOUNT = "see own account"
    # the school
    KEEP_SCHOOL = "keep the school"
    # courses and people
    SEE_COURSE = "see course"
    MANAGE_COURSE = "manage course"
    MANAGE_PEOPLE = "manage people"
    # safety
    SEE_SAFETY = "see safety topics"
    ANSWER_QUESTIONS = "answer the questions of a topic"
    MANAGE_SAFETY = "manage safety topics"
    GIVE_PERMIT = "give permit"
    KEEP_INCIDENTS = "keep the record of incidents"
    SEE_RECORD = "see a student's record"
    # metal and money
    SEE_RACK = "see rack"
    MANAGE_RACK = "manage rack"
    MANAGE_BUDGET = "manage budget"
    # briefs and projects
    SEE_BRIEF = "see brief"
    MANAGE_BRIEF = "manage brief"
    SEE_PROJECT = "see project"
    DRAW_PATTERN = "draw pattern"
    ANSWER_PATTERN = "answer pattern"
    # layouts
    SEE_LAYOUT = "see layout"
    LAY_OUT = "lay out pieces"
    CHOOSE_LAYOUT = "choose a layout"
    NUDGE_LAYOUT = "nudge a student's layout"
    HAND_IN_LAYOUT = "hand in a layout"
    PRACTISE = "practise laying out"
    # plans and the bench
    SEE_PLAN = "see plan"
    MANAGE_PLAN = "manage plan"
    CHOOSE_WAY = "choose how a sheet is shared"
    PART_METAL = "part metal into blanks"
    STICK_PAPERS = "stick papers on shared metal"
    HAND_ON_METAL = "hand on shared metal"
    ADD_TO_METAL = "add to metal in use"
    DO_BENCH_STEP = "do bench step"
    CHECK_BENCH_STEP = "check bench step"
    RETURN_METAL = "return metal"
    # looking back
    SEE_OWN_STATEMENT = "see own statement"
    REVIEW_COSTS = "review costs"
    PRINT = "print"
    MANAGE_PRINTERS = "manage printers"


POLICY: dict[Action, frozenset[Role]] = {
    Action.SEE_FIRST_PAGE: EVERYBODY,
    Action.SEE_OWN_ACCOUNT: EVERYBODY,
    Action.KEEP_SCHOOL: TEACHERS,
    Action.SEE_COURSE: TEACHERS,
    Action.MANAGE_COURSE: TEACHERS,
    Action.MANAGE_PEOPLE: TEACHERS,
    Action.SEE_SAFETY: EVERYBODY,
    Action.ANSWER_QUESTIONS: STUDENTS,
    Action.MANAGE_SAFETY: TEACHERS,
    Action.GIVE_PERMIT: TEACHERS,
    Action.KEEP_INCIDENTS: TEACHERS,
    Action.SEE_RECORD: EVERYBODY,
    Action.SEE_RACK: TEACHERS,
    Action.MANAGE_RACK: TEACHERS,
    Action.MANAGE_BUDGET: TEACHERS,
    Action.SEE_BRIEF: EVERYBODY,
    Action.MANAGE_BRIEF: TEACHERS,
    Action.SEE_PROJECT: EVERYBODY,
    Action.DRAW_PATTERN: STUDENTS,
    Action.ANSWER_PATTERN: TEACHERS,
    Action.SEE_LAYOUT: EVERYBODY,
    Action.LAY_OUT: EVERYBODY,
    Action.CHOOSE_LAYOUT: EVERYBODY,
    Action.NUDGE_LAYOUT: TEACHERS,
    Action.HAND_IN_LAYOUT: STUDENTS,
    Action.PRACTISE: EVERYBODY,
    Action.SEE_PLAN: EVERYBODY,
    Action.MANAGE_PLAN: TEACHERS,
    Action.CHOOSE_WAY: TEACHERS,
    Action.PART_METAL: EVERYBODY,  # whether a student may, shear and permit decide
    Action.STICK_PAPERS: EVERYBODY,
    Action.HAND_ON_METAL: TEACHERS,
    Action.ADD_TO_METAL: EVERYBODY,
    Action.DO_BENCH_STEP: STUDENTS,
    Action.CHECK_BENCH_STEP: TEACHERS,
    Action.RETURN_METAL: TEACHERS,
    Action.SEE_OWN_STATEMENT: STUDENTS,
    Action.REVIEW_COSTS: TEACHERS,
    Action.PRINT: EVERYBODY,
    Action.MANAGE_PRINTERS: TEACHERS,
}


def may(user: object, action: Action) -> bool:
    """Whether the person's role allows the action at all (the object is the query's matter)."""
    if not isinstance(user, User) or not user.is_active:
        return False
    if action is Action.KEEP_SCHOOL and not user.keeps_school:
        return False
    return Role(user.role) in POLICY[action]


class Visit(HttpRequest):
    """A request by somebody who is signed in; views behind `requires` get one."""

    user: User


def requires(action: Action) -> Callable[[Callable[..., HttpResponseBase]], Any]:
    """Mark a view with the action it needs; refuse everybody else."""

    def mark(view: Callable[..., HttpResponseBase]) -> Any:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return send_to_door(request)
            if not may(request.user, action):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guard = cast(Any, guarded)
        guard.action = action
        return guard

    return mark


def open_to_all(view: Callable[..., HttpResponseBase]) -> Any:
    """Mark one of the few pages that need no sign-in (sign-in, first run)."""
    cast(Any, view).action = None
    return view
