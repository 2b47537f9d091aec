"""Settings of the site. Every one that differs by place is read from the environment.

Plain defaults serve a yard on one machine: SQLite under var/, no file to edit.
"""

from __future__ import annotations

import os
from datetime import timedelta
from importlib.util import find_spec
from pathlib import Path

import dj_database_url
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from fleet.config.secretkey import read_or_make_secret_key


def _is_on(name: str) -> bool:
    return os.environ.get(name, "").lower() in {"1", "true", "yes", "on"}


def _listed(name: str, default: str) -> list[str]:
    return [part.strip() for part in os.environ.get(name, default).split(",") if part.strip()]


BASE_DIR = Path(__file__).resolve().parents[2]
VAR_DIR = Path(os.environ.get("LEDGER_VAR", BASE_DIR / "var"))
SECRET_KEY = read_or_make_secret_key(VAR_DIR)
DEBUG = _is_on("DEBUG")
ALLOWED_HOSTS = _listed("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = _listed("CSRF_TRUSTED_ORIGINS", "")

INSTALLED_APPS = [
    "inspections",
    "ratings",
    "fleet",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "axes",
    "csp",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_filters",
    "django_htmx",
    "django_otp",
    "django_otp.plugins.otp_static",
    "django_otp.plugins.otp_totp",
    "django_tables2",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "fleet.journal.who.WhoIsAtWork",
    "fleet.refusals.KeepRefusals",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "fleet.signers.NamesReadOnce",
    "fleet.people.middleware.OwnPasswordFirst",
    "fleet.people.middleware.SecondStepFirst",
    "fleet.people.middleware.RoleFirst",
    "fleet.people.middleware.PlainMethodsOnly",
    "fleet.people.middleware.YardFirst",
    "fleet.people.middleware.MonthAnew",
    "fleet.people.middleware.KeptByNobody",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
    # Last: who may see the page is known by then.
    "fleet.replica.ReadFromReplica",
]

ROOT_URLCONF = "fleet.config.urls"
WSGI_APPLICATION = "fleet.config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        # A feature keeps its templates beside its code.
        "DIRS": sorted(
            folder
            for app in ("fleet", "ratings", "inspections")
            for folder in (BASE_DIR / app).glob("*/templates")
        ),
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "fleet.context.reader",
            ],
        },
    },
]

# So long does a write wait for others before whoever asked is told to send it again.
WAITS_SECONDS = 20
SQLITE_OPTIONS = {
    # A signing reads before it writes; taking the write lock at BEGIN makes two
    # signings wait for each other instead of one failing half way.
    "transaction_mode": "IMMEDIATE",
    "timeout": WAITS_SECONDS,
    # What was answered as recorded is on the disk itself, whatever happens to the power.
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
}

DATABASES = {
    "default": dj_database_url.config(default=f"sqlite:///{VAR_DIR / 'ledger.sqlite3'}"),
}
# Django's own, but that every write is told of in the journal.
_ENGINE = DATABASES["default"]["ENGINE"].rsplit(".", 1)[-1]
DATABASES["default"]["ENGINE"] = f"fleet.journal.engines.{_ENGINE}"
if _ENGINE == "sqlite3":
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
    # A file, as in service: browser and concurrency tests open several connections.
    DATABASES["default"]["TEST"] = {"NAME": VAR_DIR / "test-ledger.sqlite3"}
elif _ENGINE == "postgresql":
    # Before what the address says of the connection, so that its word holds.
    _OPTIONS = DATABASES["default"].setdefault("OPTIONS", {})
    _WAITS = f"-c lock_timeout={WAITS_SECONDS}s"
    _OPTIONS["options"] = f"{_WAITS} {_OPTIONS.get('options', '')}".strip()

# A replica of the records, from which lists and looks are read (`fleet.replica`) while it is no
# older than so many seconds.
READS_REPLICA = bool(os.environ.get("DATABASE_REPLICA_URL"))
REPLICA_SECONDS = int(os.environ.get("LEDGER_REPLICA_SECONDS", "10"))
if READS_REPLICA:
    DATABASES["replica"] = dj_database_url.config(env="DATABASE_REPLICA_URL")
    if DATABASES["replica"]["ENGINE"].rsplit(".", 1)[-1] != "postgresql" or _ENGINE != "postgresql":
        raise ImproperlyConfigured(
            "DATABASE_REPLICA_URL is set, and a replica is one of PostgreSQL: name in it a server "
            "that streams from the one of DATABASE_URL."
        )
    # Beside what its address says, such as how the server proves who it is.
    _REPLICA_OPTIONS = DATABASES["replica"].setdefault("OPTIONS", {})
    _REPLICA_OPTIONS.setdefault("connect_timeout", 3)
    _READ_ONLY = "-c default_transaction_read_only=on"
    _REPLICA_OPTIONS["options"] = f"{_REPLICA_OPTIONS.get('options', '')} {_READ_ONLY}".strip()
    DATABASE_ROUTERS = ["fleet.replica.Router"]

# Holds how often each address asked for a page (`fleet.throttle`), of so many addresses that others
# don’t make it forget one that goes on asking.
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "OPTIONS": {"MAX_ENTRIES": 20_000},
    }
}

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# The first makes new ones; a password kept by the other is kept anew when its person signs in.
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
# Who guesses passwords is locked out (`fleet.people.locks`): one name from one address, so that
# nobody locks a person out of the yard from elsewhere.
AXES_FAILURE_LIMIT = int(os.environ.get("LEDGER_LOCK_AFTER", "5"))
AXES_COOLOFF_TIME = timedelta(minutes=int(os.environ.get("LEDGER_LOCK_MINUTES", "15")))
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
# Whoever tries while locked out learns nothing and changes nothing: it ends when it was said to.
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_CLIENT_IP_CALLABLE = "fleet.throttle.plain_address_of"
AXES_USERNAME_CALLABLE = "fleet.people.locks.name_counted"
AXES_LOCKOUT_CALLABLE = "fleet.people.locks.locked_page"
# Sign-ins are on record as everything is, without addresses.
AXES_DISABLE_ACCESS_LOG = True
AXES_ENABLE_ADMIN = False
# Of which roles a second step is asked at sign-in, such as "equipment manager"; anybody may set one
# up for themselves (`fleet.people.second_step`).
SECOND_STEP_OF = _listed("LEDGER_SECOND_STEP_OF", "")
if unknown := set(SECOND_STEP_OF) - {"equipment manager", "dispatcher", "auditor"}:
    raise ImproperlyConfigured(
        f"LEDGER_SECOND_STEP_OF names {', '.join(sorted(unknown))}: give roles, with commas "
        "between, such as equipment manager, dispatcher."
    )
# For which name passkeys are made, where it is not the one the site is asked by.
PASSKEY_HOST = os.environ.get("LEDGER_PASSKEY_HOST", "").strip().lower()
OTP_TOTP_ISSUER = "Line-Pull Ledger"
# How long a one-time link for a password holds.
PASSWORD_RESET_TIMEOUT = 3 * 24 * 3600
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "board"
LOGOUT_REDIRECT_URL = "sign-in"

LANGUAGE_CODE = "en-us"
TIME_ZONE = os.environ.get("TIME_ZONE", "America/Chicago")
USE_I18N = False
USE_TZ = True
DATETIME_FORMAT = "j M Y H:i"
DATE_FORMAT = "j M Y"

# Photos; sent by views that ask who asks, never by the web server.
MEDIA_ROOT = VAR_DIR / "media"
# Where they are kept instead: a bucket of a store that speaks S3 (`fleet.object_storage`).
S3_BUCKET = os.environ.get("LEDGER_S3_BUCKET", "")
if S3_BUCKET:
    if find_spec("storages") is None or find_spec("boto3") is None:
        raise ImproperlyConfigured(
            "LEDGER_S3_BUCKET is set, and what speaks to such a store is not installed: "
            "pip install -e '.[s3]'"
        )
    _FILES = {
        "BACKEND": "fleet.object_storage.PrivateObjects",
        "OPTIONS": {
            "bucket_name": S3_BUCKET,
            # Without these, as its library finds them, such as by the role of the machine.
            "endpoint_url": os.environ.get("LEDGER_S3_ENDPOINT") or None,
            "region_name": os.environ.get("LEDGER_S3_REGION") or None,
            "access_key": os.environ.get("LEDGER_S3_KEY") or None,
            "secret_key": os.environ.get("LEDGER_S3_SECRET") or None,
        },
    }
else:
    _FILES = {"BACKEND": "fleet.kept_files.SyncedFolder"}
STORAGES = {
    "default": _FILES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}

# Whoever brings it reads the figures of the site; nobody does where it is not set.
METRICS_TOKEN = os.environ.get("LEDGER_METRICS_TOKEN", "")

# The digest is printed where no mail server is named.
EMAIL_HOST = os.environ.get("EMAIL_HOST", "")
EMAIL_PORT = int(os.environ.get("EMAIL_PORT", "587"))
EMAIL_HOST_USER = os.environ.get("EMAIL_HOST_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("EMAIL_HOST_PASSWORD", "")
EMAIL_USE_TLS = EMAIL_PORT == 587
EMAIL_USE_SSL = EMAIL_PORT == 465
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if EMAIL_HOST else 'console'}.EmailBackend"
DEFAULT_FROM_EMAIL = os.environ.get("DEFAULT_FROM_EMAIL", "line-pull-ledger@localhost")

# A phone in the yard keeps unsent work for days: whoever uses the site stays signed in a month,
# counted from the last day they used it (`fleet.people.middleware.MonthAnew`). A session is written
# on that day's first page alone: were it on each, every reader would be a writer.
SESSION_COOKIE_AGE = int(os.environ.get("LEDGER_SESSION_DAYS", "30")) * 24 * 3600
SESSION_EXPIRE_AT_BROWSER_CLOSE = _is_on("LEDGER_SESSION_ENDS_WITH_BROWSER")
SESSION_SAVE_EVERY_REQUEST = False
# A link in a letter opens the site signed in; no form of another site is ever sent with its proof.
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Strict"

# Where a photo was taken is nobody's business, unless the yard says that it is.
KEEP_PHOTO_PLACE = _is_on("LEDGER_KEEP_PHOTO_PLACE")

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
# Straight from the apps' folders: one process serves all, with no collecting step.
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"},
        "json": {"()": "fleet.config.json_lines.JsonLines"},
    },
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": "json" if os.environ.get("LEDGER_LOG", "") == "json" else "line",
        }
    },
    "loggers": {
        # What is refused, broken or not sent. No secret is ever logged: no password, no address
        # of a calendar.
        **{
            app: {"handlers": ["console"], "level": "INFO"}
            for app in ("fleet", "ratings", "inspections")
        },
        # Said by the site itself, of people by name and with no address.
        "axes": {"handlers": ["console"], "level": "ERROR"},
        # Django mails the traceback of a failed request and prints nothing; a yard reads the
        # console. Its warnings hold the path of what was not found, which may be a secret one.
        "django.request": {"handlers": ["console"], "level": "ERROR"},
        "django.security": {"handlers": ["console"], "level": "WARNING"},
    },
}

FILE_UPLOAD_HANDLERS = [
    "fleet.uploads.TakeAnyName",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

DJANGO_TABLES2_TEMPLATE = "fleet/table.html"

PLAIN_HTTP = DEBUG or _is_on("LEDGER_PLAIN_HTTP")
SECURE_SSL_REDIRECT = not PLAIN_HTTP
# A monitor asks the process itself, not the proxy before it.
SECURE_REDIRECT_EXEMPT = [r"^health/$", r"^ready/$", r"^metrics/$"]
SESSION_COOKIE_SECURE = not PLAIN_HTTP
CSRF_COOKIE_SECURE = not PLAIN_HTTP
SECURE_HSTS_SECONDS = 0 if PLAIN_HTTP else 365 * 24 * 3600
SECURE_PROXY_SSL_HEADER = (
    ("HTTP_X_FORWARDED_PROTO", "https") if _is_on("LEDGER_BEHIND_PROXY") else None
)
# Scripts, styles and pictures of our own files alone, none written into a page.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        # A photo just taken is shown from the phone's own memory before it is sent.
        "img-src": [SELF, "blob:", "data:"],
    }
}
# Whether other sites of the same domain may be bound to HTTPS, and entered in browsers'
# preload lists, is for the owner of that domain to say, not for one site under it.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
