"""One file, a handful of switches. Every variable read here is listed in DEVELOPERS.md."""

import contextlib
import os
import secrets
from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured

from decor.studio.mail_server import server_of
from decor.studio.site import site_of

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

VAR_DIR = Path(env("KNOTBOOK_VAR", default=str(BASE_DIR / "var")))
# Clients' addresses and pictures: nobody else on this machine has to read them.
VAR_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)


def _secret(name: str, path: Path) -> str:
    """The value of NAME, of the file named by NAME_FILE, or of a key made once and kept private."""
    if value := env(name, default=""):
        return value
    if given := env(f"{name}_FILE", default=""):
        return Path(given).read_text().strip()
    if not path.exists():
        # Written whole under another name, then linked: two processes that start together must keep one key, and
        # neither may read a half-written one.
        draft = path.with_name(f"{path.name}.{os.getpid()}")
        handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        os.write(handle, secrets.token_urlsafe(64).encode())
        os.close(handle)
        with contextlib.suppress(FileExistsError):
            os.link(draft, path)
        draft.unlink()
    return path.read_text().strip()


SECRET_KEY = _secret("SECRET_KEY", VAR_DIR / "secret_key")
DEBUG = env.bool("KNOTBOOK_DEBUG", default=False)

try:
    _site = site_of(env("SITE_URL", default="http://127.0.0.1:8000"))
except ValueError as refusal:
    raise ImproperlyConfigured(str(refusal)) from refusal
SITE_URL, HTTPS = _site.url, _site.https
if HTTPS and (DEBUG or len(SECRET_KEY) < 40):
    raise ImproperlyConfigured(
        "An https studio runs without KNOTBOOK_DEBUG and with a SECRET_KEY of 40 characters or more"
    )

ALLOWED_HOSTS = sorted({_site.host, "127.0.0.1", "localhost"})
CSRF_TRUSTED_ORIGINS = [SITE_URL]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "decor.studio",
    "inventory",
    "jobs",
]

MIDDLEWARE = [
    "decor.studio.middleware.DoorMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "decor.studio.middleware.StudioMiddleware",
    "decor.studio.middleware.AccessMiddleware",
]

ROOT_URLCONF = "decor.urls"
WSGI_APPLICATION = "decor.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "decor.studio.context.desk",
            ],
            "builtins": ["decor.studio.templatetags.desk"],
        },
    }
]
FORM_RENDERER = "decor.studio.forms.SlipRenderer"

DATABASES = {"default": env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'studio.sqlite3'}")}
DATABASES["default"]["CONN_MAX_AGE"] = 600
# After a restart of the database server each thread's first page would else fail.
DATABASES["default"]["CONN_HEALTH_CHECKS"] = True
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, as in use: the tests race several processes against it.
    DATABASES["default"]["TEST"] = {"NAME": str(VAR_DIR / "test.sqlite3")}
    DATABASES["default"]["OPTIONS"] = {
        # IMMEDIATE takes the write lock at BEGIN: a deferred one fails at once with "database is locked"
        # when two readers turn writers. FULL, so that an acknowledged approval survives a power cut.
        # Who waits for the lock only looks again now and then: where eight write without a pause, one was unlucky for
        # 20 seconds.
        "transaction_mode": "IMMEDIATE",
        "timeout": 60,
        "init_command": (
            "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; "
            "PRAGMA temp_store=MEMORY; PRAGMA mmap_size=134217728; PRAGMA journal_size_limit=27103364;"
        ),
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "studio.User"
LOGIN_URL = "studio:login"
LOGIN_REDIRECT_URL = "jobs:today"
TESTING = "PYTEST_VERSION" in os.environ
PASSWORD_HASHERS = [
    # A slow hash is the point in use, and only slow in tests.
    "django.contrib.auth.hashers.MD5PasswordHasher" if TESTING else "django.contrib.auth.hashers.ScryptPasswordHasher"
]
PASSWORD_MIN_LENGTH = 15
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": PASSWORD_MIN_LENGTH},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]

# Limits by role are kept by StudioMiddleware; the cookie itself lasts as long as the longest of them.
SESSION_COOKIE_AGE = 30 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
BEHIND_PROXY = env.bool("BEHIND_PROXY", default=False)
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
if HTTPS:
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^livez$", r"^readyz$"]
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
    # A self-hoster's other names under the same domain are none of the studio's business.
    SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
    # Only with a proxy that sets it and strips what a visitor sends; without one anybody could claim https.
    if BEHIND_PROXY:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_CONTENT_TYPE_NOSNIFF = True
# not "no-referrer": that sends "Origin: null" on form posts, and the CSRF check then refuses a client's answer
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CSRF_FAILURE_VIEW = "decor.studio.views.form_expired"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "img-src": ["'self'", "blob:"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
        "form-action": ["'self'"],
        "worker-src": ["'self'"],
        "manifest-src": ["'self'"],
        "connect-src": ["'self'"],
    }
}

PICTURE_MAX_BYTES = 15 * 1024 * 1024
# Up to here a picture that is too large is read to its end, so that its sender is told beside the field.
REQUEST_MAX_BYTES = 10 * PICTURE_MAX_BYTES
FILE_UPLOAD_HANDLERS = ["decor.studio.uploads.BoundedUploadHandler"]
# One picture a form. Files are read before anybody is known, so many of them would fill the memory for a stranger.
DATA_UPLOAD_MAX_NUMBER_FILES = 1
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
MEDIA_ROOT = VAR_DIR / "media"

LANGUAGE_CODE = "en-gb"
USE_TZ = True
TIME_ZONE = "UTC"
USE_I18N = True

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        # The live server of the tests finds no hashed names, so scripts would silently not load there.
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if TESTING or DEBUG
        else "decor.studio.statics.HashedStatics"
    },
}

# What was counted of a chart is kept for the next page and the other processes; it can be lost without harm.
CACHES = {
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"},
    "figures": {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": VAR_DIR / "figures",
        "TIMEOUT": None,
        "OPTIONS": {"MAX_ENTRIES": 5000},
    },
}

REDIS_URL = env("REDIS_URL", default="")
CELERY_BROKER_URL = REDIS_URL or env("KNOTBOOK_BROKER", default="filesystem://")
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
# A job that hangs is killed, and tried again by its row; a process that grew large gives its memory back.
CELERY_TASK_TIME_LIMIT = 300
CELERY_WORKER_MAX_MEMORY_PER_CHILD = 400_000
CELERY_TIMEZONE = "UTC"
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
if CELERY_BROKER_URL.startswith("filesystem"):
    _broker = VAR_DIR / "broker"
    for _name in ("queue", "processed", "control"):
        (_broker / _name).mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(_broker / "queue"),
        "data_folder_out": str(_broker / "queue"),
        "processed_folder": str(_broker / "processed"),
        "control_folder": str(_broker / "control"),
        "store_processed": False,
    }
else:
    # Redis hands a lost worker's task on only after this long; the sweep of the job rows is faster still.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 120,
        "unacked_restore_interval": 5,
        "unacked_restore_throttle": 1,
    }
BACKGROUND_LEASE_SECONDS = env.int("KNOTBOOK_LEASE_SECONDS", default=20)
BACKGROUND_SWEEP_SECONDS = env.int("KNOTBOOK_SWEEP_SECONDS", default=10)
CELERY_BEAT_SCHEDULE = {
    "sweep": {"task": "jobs.background_sweep", "schedule": BACKGROUND_SWEEP_SECONDS},
    "holds": {"task": "jobs.holds_sweep", "schedule": 60},
    "daily": {"task": "jobs.daily_sweep", "schedule": 6 * 3600},
}
CELERY_BEAT_SCHEDULE_FILENAME = str(VAR_DIR / "beat")

# Off until EMAIL_URL is set: then nothing is written to be sent, so that turning it on sends nothing old.
try:
    _mail = server_of(env("EMAIL_URL", default=""))
except ValueError as refusal:
    raise ImproperlyConfigured(str(refusal)) from refusal
globals().update(_mail)
MAIL_ON = bool(_mail["MAIL_ON"])
EMAIL_TIMEOUT = 15
MAIL_FROM = env("MAIL_FROM", default="")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "plain": {
            "()": "decor.studio.logs.HidingFormatter",
            "format": "{asctime} {levelname} {name}: {message}",
            "style": "{",
        }
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    # The framework's own handler for its little server would write every address as it is.
    "loggers": {"django.server": {"handlers": ["console"], "propagate": False}},
    "root": {"handlers": ["console"], "level": env("KNOTBOOK_LOG_LEVEL", default="WARNING")},
}
