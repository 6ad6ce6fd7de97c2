"""Who: the school, its people, its courses, their permits and the diary of what was done."""

from .append_only import AppendOnly, AppendOnlyQuerySet, HistoryIsKept
from .course import Course, Seat
from .history import History, record, subject_of
from .people import Role, User
from .safety import BenchPermit, PermitWithdrawal, Topic
from .school import School

__all__ = [
    "AppendOnly",
    "AppendOnlyQuerySet",
    "BenchPermit",
    "Course",
    "History",
    "HistoryIsKept",
    "PermitWithdrawal",
    "Role",
    "School",
    "Seat",
    "Topic",
    "User",
    "record",
    "subject_of",
]
