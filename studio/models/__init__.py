"""The work: briefs, projects and their patterns, cut plans, quotes, bench steps, errands."""

from .bench import BenchStep, SignOff
from .bench_words import BenchSetup, StepWording
from .brief import Brief
from .builder_draft import BuilderDraft
from .errand import Errand
from .layout import Layout
from .placing_settings import Hand, PlacingSettings
from .plan import CutPlan, PlacingJob, PlanProject, PlanStock, Return
from .practice import PracticeTry
from .project import Pattern, PatternQuerySet, Project
from .quote import Quote, QuoteLine
from .tablet import BenchTablet, TabletDeed
from .trial_layout import TrialLayout
from .upload_tally import UploadTally
from .worker_sign import WorkerSign

__all__ = [
    "BenchSetup",
    "BenchStep",
    "BenchTablet",
    "Brief",
    "BuilderDraft",
    "CutPlan",
    "Errand",
    "Hand",
    "Layout",
    "Pattern",
    "PatternQuerySet",
    "PlacingJob",
    "PlacingSettings",
    "PlanProject",
    "PlanStock",
    "PracticeTry",
    "Project",
    "Quote",
    "QuoteLine",
    "Return",
    "SignOff",
    "StepWording",
    "TabletDeed",
    "TrialLayout",
    "UploadTally",
    "WorkerSign",
]
