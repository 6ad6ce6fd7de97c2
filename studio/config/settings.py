"""Settings: sound defaults for one school on one machine; a district changes only the environment.

Every variable is listed in studio/config/README.md, "Settings".
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path

import dj_database_url
import django_stubs_ext
from csp.constants import NONE, SELF

from . import private_folder
from .proxies import networks

django_stubs_ext.monkeypatch()

BASE_DIR = Path(__file__).resolve().parents[2]
VAR_DIR = Path(os.environ.get("BENCHLEDGER_VAR", BASE_DIR / "var"))
private_folder.guard(VAR_DIR)  # before anything in it is opened


def _flag(name: str, default: bool) -> bool:
    return os.environ.get(name, str(default)).strip().lower() in {"1", "true", "yes", "on"}


def _list(name: str, default: str) -> list[str]:
    return [word.strip() for word in os.environ.get(name, default).split(",") if word.strip()]


def _secret_key() -> str:
    """The environment's key, else one made once and kept beside the data."""
    from_environment = os.environ.get("BENCHLEDGER_SECRET_KEY")
    if from_environment:
        return from_environment
    kept = VAR_DIR / "secret_key"
    try:
        # Exclusive creation, so that web and worker starting together agree on one key.
        with kept.open("x", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(64))
    except FileExistsError:
        pass
    return kept.read_text(encoding="ascii")


# The engine's compiled search is kept here; set before anything imports the compiler.
os.environ.setdefault("NUMBA_CACHE_DIR", str(VAR_DIR / "engine"))

DEBUG = _flag("BENCHLEDGER_DEBUG", False)
SECRET_KEY = _secret_key()
# This machine always: a monitor beside the server asks for `/health/` by the loopback address.
ALLOWED_HOSTS = [*_list("BENCHLEDGER_HOSTS", ""), "localhost", "127.0.0.1", "[::1]"]
CSRF_TRUSTED_ORIGINS = _list("BENCHLEDGER_ORIGINS", "")
BEHIND_TLS = _flag("BENCHLEDGER_TLS", False)
# Proxies whose word about a client's address and scheme is believed (studio/config/proxies.py).
PROXIES = networks(_list("BENCHLEDGER_PROXIES", ""))

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django.forms",
    "csp",
    "crispy_forms",
    "crispy_bootstrap5",
    "django_htmx",
    "django_tasks",
    "django_tasks_db",
    "classroom",
    "inventory",
    "studio",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # below the static files, above all pages
    "classroom.signin.private_pages.PrivatePagesMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "classroom.middleware.SchoolClockMiddleware",
    "classroom.middleware.RefusalMiddleware",
]

ROOT_URLCONF = "studio.config.urls"
WSGI_APPLICATION = "studio.config.wsgi.application"
ASGI_APPLICATION = "studio.config.asgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.views.house.navigation.page",
            ],
            "builtins": ["studio.templatetags.measures", "studio.templatetags.marks"],
        },
    }
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
CRISPY_ALLOWED_TEMPLATE_PACKS = "bootstrap5"
CRISPY_TEMPLATE_PACK = "bootstrap5"

# SQLite's defaults lose writes under concurrency: without IMMEDIATE, a read-modify-write
# transaction fails as locked in spite of the timeout. PostgreSQL is a DATABASE_URL away.
DATABASES = {
    "default": dj_database_url.config(
        default=f"sqlite:///{VAR_DIR / 'benchledger.sqlite3'}",
        # Opening one costs PostgreSQL a process whose first queries are slow.
        conn_max_age=600,
        # A connection that did not outlive a restart of the database is noticed and made anew.
        conn_health_checks=True,
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    private_folder.close_database(DATABASES["default"]["NAME"])
    DATABASES["default"]["OPTIONS"] = {
        "timeout": 20,
        "transaction_mode": "IMMEDIATE",
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;"
        ),
    }
else:
    # Pages say in words that the database is away instead of hanging until the network gives up.
    DATABASES["default"].setdefault("OPTIONS", {}).setdefault("connect_timeout", 5)

AUTH_USER_MODEL = "classroom.User"
AUTHENTICATION_BACKENDS = ["classroom.signin.PassphraseBackend"]  # slows guessers, too
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "first_page"
LOGOUT_REDIRECT_URL = "sign_in"
SESSION_COOKIE_AGE = 60 * 60 * 10  # one school day
SESSION_COOKIE_HTTPONLY = True

LANGUAGE_CODE = "en"
USE_I18N = True
FORMAT_MODULE_PATH = "classroom.wording.formats"
# Texts that are kept as data, for the catalogues: functions that give them all.
TRANSLATED_TEXTS = [
    "inventory.metals.translated_texts",
    "studio.core.bench.part_text.translated_texts",
    "studio.core.bench.texts.translated_texts",
    "studio.core.practice.sheets.translated_texts",
    "studio.core.pricing.line_words.translated_texts",
    "studio.core.reading.known_things.translated_texts",
    "studio.steps.plans.prices.rules_in_words.translated_texts",
    "studio.views.bench.step_art.translated_texts",
]
USE_TZ = True
TIME_ZONE = "UTC"  # each school's own zone is switched on per request

STATIC_URL = "static/"
STATIC_ROOT = Path(os.environ.get("BENCHLEDGER_STATIC", VAR_DIR / "static"))
STATICFILES_DIRS = [BASE_DIR / "static"]
EVIDENCE_DIR = Path(os.environ.get("BENCHLEDGER_EVIDENCE", VAR_DIR / "evidence"))
private_folder.mend(EVIDENCE_DIR)
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "studio.static_files.storage.JoinedStaticFilesStorage",
        "OPTIONS": private_folder.modes_of_static(STATIC_ROOT, VAR_DIR),
    },
    # Uploaded patterns: outside anything that is served, on storage that workers share.
    "evidence": {
        "BACKEND": "classroom.files.private_store.PrivateFiles",
        "OPTIONS": {
            "file_permissions_mode": private_folder.FILE_MODE,
            "directory_permissions_mode": private_folder.FOLDER_MODE,
        },
    },
}
# What one person may bring in a day and one project may keep; far above what a lesson needs.
UPLOADS_A_DAY = int(os.environ.get("BENCHLEDGER_UPLOADS_A_DAY", "60"))
VERSIONS_A_PROJECT = int(os.environ.get("BENCHLEDGER_VERSIONS_A_PROJECT", "100"))
PROJECT_MB = int(os.environ.get("BENCHLEDGER_PROJECT_MB", "200"))
# One backup a day, made by `manage.py serve`; the newest of each of the last days and weeks stay.
BACKUP_DAILY = _flag("BENCHLEDGER_BACKUP", True)
BACKUP_FOLDER = Path(os.environ.get("BENCHLEDGER_BACKUP_FOLDER", VAR_DIR / "backups"))
BACKUP_DAYS = int(os.environ.get("BENCHLEDGER_BACKUP_DAYS", "7"))
BACKUP_WEEKS = int(os.environ.get("BENCHLEDGER_BACKUP_WEEKS", "4"))
BACKUP_BEFORE_UPGRADE = _flag("BENCHLEDGER_BACKUP_BEFORE_UPGRADE", True)
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG

# For typed fields; a pattern file's own bound is in studio/core/reading, and is asked
# before the file is read whole.
DATA_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 3000
DATA_UPLOAD_MAX_NUMBER_FILES = 5

# The queue is a setting: the database by default, an existing distributed queue in a district.
TASKS = {
    "default": {
        "BACKEND": os.environ.get("BENCHLEDGER_TASKS", "django_tasks_db.DatabaseBackend"),
        # placing; what people wait for: reading their files, making PDF; and trial layouts
        "QUEUES": ["default", "desk", "trials"],
    }
}
BROKER_URL = os.environ.get("BENCHLEDGER_BROKER", "")
DESK_LOOPS = int(os.environ.get("BENCHLEDGER_DESK_LOOPS", "1"))
TRIAL_LOOPS = int(os.environ.get("BENCHLEDGER_TRIAL_LOOPS", "2"))
TRIALS = True  # False: nothing is laid before somebody asks for it (tests)
PLACING_SECONDS = float(os.environ.get("BENCHLEDGER_PLACING_SECONDS", "10"))
PLACING_APART = True  # False: searched by the very process that takes the job (tests)
PLACING_LEASE_SECONDS = float(os.environ.get("BENCHLEDGER_PLACING_LEASE_SECONDS", "30"))

# Errands: reading uploads and making longer PDFs, done by a worker while the person waits.
ERRANDS_EACH = int(os.environ.get("BENCHLEDGER_ERRANDS_EACH", "3"))
ERRANDS_IN_ALL = int(os.environ.get("BENCHLEDGER_ERRANDS_IN_ALL", "60"))
ERRAND_LEASE_SECONDS = float(os.environ.get("BENCHLEDGER_ERRAND_LEASE_SECONDS", "30"))
ERRAND_MOMENT_SECONDS = 1.0  # how long an answer may wait for a quick one, before the waiting page
ERRANDS_AT_ONCE = False  # True: done by the very request that asks (tests)

# No inline script or style, nothing from anywhere else.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = BEHIND_TLS
CSRF_COOKIE_SECURE = BEHIND_TLS
SECURE_SSL_REDIRECT = BEHIND_TLS
SECURE_REDIRECT_EXEMPT = [r"^health/$"]  # a monitor on this machine asks without TLS
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if BEHIND_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = BEHIND_TLS
SECURE_HSTS_PRELOAD = BEHIND_TLS

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": os.environ.get("BENCHLEDGER_LOG", "INFO")},
    "loggers": {
        "django": {"level": "NOTSET"},  # the root's level counts for it too
        "weasyprint": {"level": "ERROR"},
        "fontTools": {"level": "ERROR"},
        "numba": {"level": "WARNING"},
        "django_tasks": {"level": "WARNING"},  # it tells of every task; the plans tell enough
        "django_tasks_db": {"level": "WARNING"},
    },
}
