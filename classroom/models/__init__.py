"""Who: the school, its people, its courses, their permits and the diary of what was done."""

from .append_only import AppendOnly, HistoryIsKept
from .backup_run import BackupRun
from .course import Course, Seat
from .erasure import Erasure, ErasureCorrection
from .guardian import GuardianSignature
from .history import History, record, subject_of
from .incidents import Incident
from .people import Role, User
from .printers import PrinterCheck
from .safety import BenchPermit, PermitWithdrawal, QuestionAttempt, Topic, TopicWording
from .school import School
from .sign_in_count import SignInCount
from .substances import Substance
from .waiting_file import WaitingFile

__all__ = [
    "AppendOnly",
    "BackupRun",
    "BenchPermit",
    "Course",
    "Erasure",
    "ErasureCorrection",
    "GuardianSignature",
    "History",
    "HistoryIsKept",
    "Incident",
    "PermitWithdrawal",
    "PrinterCheck",
    "QuestionAttempt",
    "Role",
    "School",
    "Seat",
    "SignInCount",
    "Substance",
    "Topic",
    "TopicWording",
    "User",
    "WaitingFile",
    "record",
    "subject_of",
]
