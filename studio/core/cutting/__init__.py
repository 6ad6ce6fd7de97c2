"""What is to be cut from what, and where it lies: the words in which all geometry of plans speaks.

`job` has pieces, metal and plans; `formats` their JSON, read `strictly`, with what version 1.2
adds in `by_hand`. Search, judge, prices and
pictures stand on this room; nothing in it searches or judges.
"""

from .formats import job_from_json, job_to_json, layout_from_json, plan_from_json, plan_to_json
from .job import Blank, Cut, Hands, Job, Parting, Placement, Plan, Stock, Wanted
from .strictly import JobError

__all__ = [
    "Blank",
    "Cut",
    "Hands",
    "Job",
    "JobError",
    "Parting",
    "Placement",
    "Plan",
    "Stock",
    "Wanted",
    "job_from_json",
    "job_to_json",
    "layout_from_json",
    "plan_from_json",
    "plan_to_json",
]
