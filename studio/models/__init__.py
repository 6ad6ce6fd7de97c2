"""The work: briefs, projects and their patterns, cut plans, quotes, bench steps, errands."""

from .bench import BenchStep, SignOff
from .bench_words import BenchSetup, Shear, StepWording
from .brief import Brief
from .builder_draft import BuilderDraft
from .errand import Errand
from .layout import Layout
from .placing_settings import Hand, PlacingSettings, Sharing
from .plan import CutPlan, PlacingJob, PlanProject, PlanStock, Return
from .practice import PracticeTry
from .project import Pattern, PatternQuerySet, Project
from .quote import Quote, QuoteLine
from .sharing import MetalHolder, PartEntry, StockSignOff, StockStep
from .tablet import BenchTablet, TabletDeed
from .trial_layout import TrialLayout
from .upload_tally import UploadTally
from .way_try import WayTry
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
    "MetalHolder",
    "PartEntry",
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
    "Sharing",
    "Shear",
    "SignOff",
    "StepWording",
    "StockSignOff",
    "StockStep",
    "TabletDeed",
    "TrialLayout",
    "UploadTally",
    "WayTry",
    "WorkerSign",
]
