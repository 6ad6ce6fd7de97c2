"""The app's settings, with what tests need otherwise: speed, and a place of their own."""

import tempfile
from pathlib import Path

from studio.settings import *  # noqa: F403
from studio.settings import STORAGES

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    "evidence": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": Path(tempfile.mkdtemp(prefix="evidence-")), "base_url": None},
    },
}
TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
PLACING_SECONDS = 0.5
