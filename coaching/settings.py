"""All settings, driven by the environment, with a working default for each value but secrets in production.

Production is the default. `BALLAST_DEMO=1` (the demo, tests, development) permits a made-up secret key, plain http and
the caught-mail page; nothing else depends on it.
"""

from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured
from django.utils.csp import CSP
from django.utils.translation import gettext_lazy as _

env = environ.Env()
BASE_DIR = Path(__file__).resolve().parent.parent

DEMO = env.bool("BALLAST_DEMO", default=False)
DEBUG = False
STATE_DIR = Path(env("BALLAST_STATE", default=str(BASE_DIR / ".state")))

SECRET_KEY = env("SECRET_KEY", default="only-for-demo-and-tests-" * 3 if DEMO else "")
if not SECRET_KEY:
    raise ImproperlyConfigured(
        "Set SECRET_KEY to a long random value (50 characters or more) in the environment."
    )
#: Encrypts stored mail bytes. Derived from SECRET_KEY when not given; give it to rotate the two apart.
MAIL_KEY = env("MAIL_KEY", default="")

#: Where people reach Ballast, without a slash at the end. Every link in a mail begins with it.
ADDRESS = env("BALLAST_ADDRESS", default="http://127.0.0.1:8000").rstrip("/")
ALLOWED_HOSTS = env.list(
    "ALLOWED_HOSTS", default=[ADDRESS.split("//", 1)[-1].split(":", 1)[0], "localhost", "127.0.0.1"]
)
CSRF_TRUSTED_ORIGINS = [ADDRESS]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "django.forms",
    "django_htmx",
    "athletes",
    "programs",
    "coaching",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "coaching.middleware.PrivatePages",
]

ROOT_URLCONF = "coaching.urls"
WSGI_APPLICATION = "coaching.wsgi.application"
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.csp",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "coaching.context.workspace",
            ],
        },
    },
]

# --- storage ----------------------------------------------------------------------------------------------------------

#: The application's own role: no superuser, cannot bypass row security, owns no table.
DATABASES = {
    "default": {
        **env.db_url("DATABASE_URL", default="postgres://ballast_app@127.0.0.1:5432/ballast"),
        "CONN_MAX_AGE": env.int("CONN_MAX_AGE", default=60),
        "CONN_HEALTH_CHECKS": True,
    }
}
if "DATABASE_OWNER_URL" in env.ENVIRON:
    #: Owns the tables. Only `manage.py migrate --database owner`, backup and restore use it.
    DATABASES["owner"] = env.db_url("DATABASE_OWNER_URL")
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

REDIS_URL = env("REDIS_URL", default="redis://127.0.0.1:6379/0")

# --- accounts ---------------------------------------------------------------------------------------------------------

AUTH_USER_MODEL = "athletes.User"
AUTHENTICATION_BACKENDS = ["django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 15},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "desk"
LOGOUT_REDIRECT_URL = "sign-in"

# --- locale -----------------------------------------------------------------------------------------------------------

LANGUAGE_CODE = "en-gb"
#: What riders may read, each language under its own name. The coach's side speaks `LANGUAGE_CODE`.
LANGUAGES = [("en-gb", _("English")), ("fr", _("Français"))]
LOCALE_PATHS = [BASE_DIR / "locale"]
TIME_ZONE = "UTC"
USE_TZ = True

# --- static files -----------------------------------------------------------------------------------------------------

STATIC_URL = "static/"
STATIC_ROOT = Path(env("STATIC_ROOT", default=str(STATE_DIR / "staticfiles")))
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEMO
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
#: The demo serves static files straight from the tree, so that it needs no collecting.
WHITENOISE_USE_FINDERS = DEMO
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
FILE_UPLOAD_HANDLERS = ["django.core.files.uploadhandler.MemoryFileUploadHandler"]

# --- mail -------------------------------------------------------------------------------------------------------------

#: Mail goes through the outbox, never through Django's own sending; these are read by `athletes/outbox.py`.
SMTP_HOST = env("EMAIL_HOST", default="127.0.0.1")
SMTP_PORT = env.int("EMAIL_PORT", default=1025)
SMTP_USER = env("EMAIL_USER", default="")
SMTP_PASSWORD = env("EMAIL_PASSWORD", default="")
SMTP_TLS = env("EMAIL_TLS", default="none" if DEMO else "starttls")  # none, starttls, tls
#: Seconds that a step of the conversation with the mail server may take, and that it may take to answer a complete
#: message: RFC 5321, 4.5.3.2.6 asks for ten minutes, since giving up sooner sends the message twice.
MAIL_STEP_SECONDS = env.float("MAIL_STEP_SECONDS", default=30.0)
MAIL_END_SECONDS = env.float("MAIL_END_SECONDS", default=600.0)
#: How long a claim on a mail holds after its holder died: above the time that handing over one may take. Other hosts
#: wait longer, by which the host that claimed it can tell from its journal whether it has gone.
MAIL_LEASE_SECONDS = env.float("MAIL_LEASE_SECONDS", default=MAIL_END_SECONDS + 10 * MAIL_STEP_SECONDS)
MAIL_HOST_SECONDS = env.float("MAIL_HOST_SECONDS", default=600.0)
#: The task that a worker is woken for when mail is due at once.
MAIL_TASK = "programs.tasks.send_due"
#: Seconds between looks for due mail, and for what dead workers left.
MAIL_TICK_SECONDS = env.float("MAIL_TICK_SECONDS", default=5.0 if DEMO else 15.0)
SWEEP_TICK_SECONDS = env.float("SWEEP_TICK_SECONDS", default=60.0)
MAIL_FROM = env("MAIL_FROM", default="Ballast <plans@ballast.example>")
#: A folder of caught mail that the demo's page shows; empty: no such page.
MAILBOX = env("BALLAST_MAILBOX", default="")

# --- Celery: a message only wakes a worker, the database is the queue -------------------------------------------------

CELERY_BROKER_URL = REDIS_URL
CELERY_RESULT_BACKEND = None
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_DISABLE_PREFETCH = True
CELERY_WORKER_MAX_TASKS_PER_CHILD = 1000
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_TASK_TIME_LIMIT = 300
#: A run begins no mail after 45 s, and the last one may take all its time-outs.
_SENDING_SECONDS = 60 + MAIL_END_SECONDS + 8 * MAIL_STEP_SECONDS
CELERY_TASK_ANNOTATIONS = {
    MAIL_TASK: {"soft_time_limit": _SENDING_SECONDS, "time_limit": _SENDING_SECONDS + 60}
}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, float | str | bool] = {
    # Above twice the longest hard limit: otherwise a task that is still running would be run again.
    "visibility_timeout": int(2 * max(CELERY_TASK_TIME_LIMIT, _SENDING_SECONDS + 60) + 60),
    "unacked_restore_interval": 10,  # kombu's own default restores about every 100 s
    "unacked_restore_throttle": 1,
    "socket_timeout": 15,
    "socket_connect_timeout": 2,
    # For whoever publishes: kombu would otherwise try for ever, and a web request with it. Workers reconnect for ever.
    "max_retries": 1,
    "interval_start": 0,
    "interval_step": 0.1,
    "interval_max": 0.1,
    "socket_keepalive": True,
    "health_check_interval": 15,
}
if REDIS_URL.startswith("filesystem"):
    # No Redis to be had: kombu's folder transport may lose messages, which the sweep makes good.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(STATE_DIR / "broker"),
        "data_folder_out": str(STATE_DIR / "broker"),
        "control_folder": str(STATE_DIR / "broker"),
    }
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE_FILENAME = str(STATE_DIR / "beat")
CELERY_BEAT_SCHEDULE = {
    "send-due": {"task": MAIL_TASK, "schedule": MAIL_TICK_SECONDS},
    "sweep": {"task": "programs.tasks.sweep", "schedule": SWEEP_TICK_SECONDS},
    "resolve-weeks": {"task": "programs.tasks.resolve_weeks", "schedule": 60.0},
    "count-missing": {"task": "programs.tasks.count_missing", "schedule": 600.0},
    "watch-sessions": {"task": "programs.tasks.watch_sessions", "schedule": 60.0 if DEMO else 300.0},
    "keep-house": {"task": "coaching.tasks.keep_house", "schedule": 3600.0},
    "make-handbooks": {"task": "programs.tasks.make_handbooks", "schedule": 10.0 if DEMO else 60.0},
    "send-digests": {"task": "programs.tasks.send_digests", "schedule": 60.0 if DEMO else 300.0},
}

# --- headers ----------------------------------------------------------------------------------------------------------

SECURE_CSP = {
    "default-src": [CSP.NONE],
    "script-src": [CSP.SELF],
    "style-src": [CSP.SELF],
    "img-src": [CSP.SELF, "data:"],
    "font-src": [CSP.SELF],
    "connect-src": [CSP.SELF],
    "form-action": [CSP.SELF],
    "manifest-src": [CSP.SELF],
    "base-uri": [CSP.NONE],
    "frame-ancestors": [CSP.NONE],
}
HTTPS = ADDRESS.startswith("https://")
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SECURE_SSL_REDIRECT = HTTPS and env.bool("SSL_REDIRECT", default=True)
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
SECURE_HSTS_SECONDS = 63072000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
#: Preloading binds a whole domain in every browser for years: whoever owns the domain decides that, at the proxy.
SILENCED_SYSTEM_CHECKS = ["security.W021"]
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_NAME = "__Host-session" if HTTPS else "session"
CSRF_COOKIE_NAME = "__Host-csrf" if HTTPS else "csrf"
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 12 * 3600

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "INFO"},
}
