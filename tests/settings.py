"""The app's settings, with what tests need otherwise: speed, and places of their own."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

# One folder for the whole run, workers included, so that nothing lands in the app's own data.
if "BENCHLEDGER_TEST_SCRATCH" not in os.environ:
    os.environ["BENCHLEDGER_TEST_SCRATCH"] = tempfile.mkdtemp(prefix="benchledger-")
    atexit.register(shutil.rmtree, os.environ["BENCHLEDGER_TEST_SCRATCH"], ignore_errors=True)
_SCRATCH = Path(os.environ["BENCHLEDGER_TEST_SCRATCH"])
os.environ["BENCHLEDGER_VAR"] = str(_SCRATCH)
# What the engine compiles is kept from run to run.
os.environ.setdefault(
    "NUMBA_CACHE_DIR", str(Path(__file__).parent.parent / ".pytest_cache" / "engine")
)
(_SCRATCH / "static").mkdir(exist_ok=True)  # whitenoise warns where there is none

from studio.config.settings import *  # noqa: E402, F403
from studio.config.settings import DATABASES, STORAGES  # noqa: E402

# A file, not memory: several connections at once behave as they do in a school.
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["TEST"] = {"NAME": str(_SCRATCH / "test.sqlite3")}
DATABASES["default"]["CONN_MAX_AGE"] = 0

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
TASKS = {
    "default": {
        "BACKEND": "django_tasks.backends.immediate.ImmediateBackend",
        "QUEUES": ["default", "desk", "trials"],
    }
}
# Looking through all static files takes longer than most pages, and each test's client would.
WHITENOISE_USE_FINDERS = False
ERRANDS_AT_ONCE = True
PLACING_APART = False
TRIALS = False
PLACING_SECONDS = 0.5
