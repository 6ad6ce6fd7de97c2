"""The work: briefs, projects and their patterns, cut plans, quotes and bench steps."""

from .bench import BenchStep, SignOff
from .brief import Brief
from .plan import CutPlan, PlacingJob, PlanProject, PlanStock, Return
from .project import Pattern, Project
from .quote import Quote, QuoteLine

__all__ = [
    "BenchStep",
    "Brief",
    "CutPlan",
    "Pattern",
    "PlacingJob",
    "PlanProject",
    "PlanStock",
    "Project",
    "Quote",
    "QuoteLine",
    "Return",
    "SignOff",
]
