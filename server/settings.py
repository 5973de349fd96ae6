"""All settings, for every place the server runs; what differs between places comes from the environment."""

from datetime import date
from pathlib import Path

from csp.constants import NONE, SELF

from server import databases, env

PACKAGE = Path(__file__).resolve().parent

# Where things stand
DATA_DIR = env.path("COMMONWEAR_DATA_DIR", Path("var").absolute())
DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
KEYS_FILE = env.keys_file("COMMONWEAR_KEYS_FILE", DATA_DIR / "keys.json")
KEYS = env.keys_in(KEYS_FILE)
ERASURE_JOURNAL = env.path("COMMONWEAR_ERASURE_JOURNAL", DATA_DIR / "erasures.journal")
SIGNING_KEY_FILE = env.path("COMMONWEAR_SIGNING_KEY_FILE", DATA_DIR / "signing-key.pem")
BACKUP_KEY_FILE = env.path("COMMONWEAR_BACKUP_KEY_FILE", DATA_DIR / "backup-key")
SECRET_KEY = env.secret("COMMONWEAR_SECRET_KEY", KEYS.secret_key)

# Who may reach it
DEBUG = env.flag("COMMONWEAR_DEBUG")
LOOPBACK_HOSTS = ["127.0.0.1", "localhost", "[::1]"]
ALLOWED_HOSTS = [host.strip() for host in env.text("COMMONWEAR_HOSTS", ",".join(LOOPBACK_HOSTS)).split(",")]
PUBLIC = not set(ALLOWED_HOSTS) <= set(LOOPBACK_HOSTS)
TRUSTED_PROXIES = env.whole("COMMONWEAR_TRUSTED_PROXIES", 0)
# Requests of one process that may be under way, and that may wait; others are told to come back (server/web/load.py)
MOST_REQUESTS = env.whole("COMMONWEAR_MOST_REQUESTS", 8, at_least=1)
MOST_IN_LINE = 6  # as many as a browser asks of one host at a time (common practice)
# How people join, and whether moderators need a second factor before they act
JOINING = env.choice("COMMONWEAR_JOINING", "invitation" if PUBLIC else "open", options=("invitation", "open"))
MODERATORS_NEED_SECOND_FACTOR = PUBLIC
METRICS_TOKEN = env.secret("COMMONWEAR_METRICS_TOKEN", None)

# Who answers for it: a public start is refused until all five are set (server/core/checks.py)
OPERATOR = {
    "controller": env.text("COMMONWEAR_CONTROLLER", None),
    "contact": env.text("COMMONWEAR_CONTACT", None),
    "country": env.text("COMMONWEAR_COUNTRY", None),
    "legal_basis": env.text("COMMONWEAR_LEGAL_BASIS", None),
    "minors": env.choice("COMMONWEAR_MINORS", None, options=("adults-only", "with-guardian")),
}

# When a cut-off is due, and the invented scenario
DEMO = env.flag("COMMONWEAR_DEMO")
FIRST_CUT_OFF = env.day("COMMONWEAR_FIRST_CUT_OFF", date(2027, 1, 1))
DRAFTS_BY_CALENDAR = env.flag("COMMONWEAR_DRAFTS_BY_CALENDAR", not DEMO)
CLOCK_FILE = env.path("COMMONWEAR_CLOCK_FILE", None)
SLOT_KEY_FILE = env.path("COMMONWEAR_SLOT_KEY_FILE", None)
if not DEMO and (CLOCK_FILE or SLOT_KEY_FILE):
    raise env.EnvironmentFault("COMMONWEAR_CLOCK_FILE or COMMONWEAR_SLOT_KEY_FILE", "works with COMMONWEAR_DEMO only")

ROOT_URLCONF = "server.urls"
WSGI_APPLICATION = "server.wsgi.application"
APPEND_SLASH = False
INSTALLED_APPS = [
    "server.core",
    "server.accounts",
    "server.groups",
    "server.wears",
    "server.curation",
    "server.editions",
    "server.api",
    "server.web",
    "server.demo",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "csp",
    "rest_framework",
    "drf_spectacular",
]
MIDDLEWARE = [
    "server.core.middleware.name_request",
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "server.core.middleware.limit_body",
    "server.core.middleware.read_to_the_end",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "server.core.middleware.keep_private",
    "server.web.load.turn_away",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "server.web.middleware.Language",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "server.web.middleware.keep_signed_in",
    "server.web.middleware.ErrorsInWords",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [PACKAGE / "templates"],
        "APP_DIRS": False,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "server.web.about.notices_on_every_page",
            ],
            "builtins": [
                "django.templatetags.static",
                "django.templatetags.i18n",
                "server.web.templatetags.saying",
            ],
        },
    },
]
TIME_ZONE = "UTC"
USE_TZ = True
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Languages of the pages; each is named in itself. The texts stand in server/locale.
LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [PACKAGE / "locale"]
FORMAT_MODULE_PATH = ["server.formats"]
USE_I18N = True

_database = env.secret_url("DATABASE_URL", schemes=databases.SCHEMES)
DATABASES = {"default": databases.described(_database, data_dir=DATA_DIR, at_once=MOST_REQUESTS)}
# Accounts of PostgreSQL beside the one that owns the tables (server/core/grants.py)
SERVICE_ROLE = env.text("COMMONWEAR_SERVICE_ROLE", None)
BACKUP_ROLE = env.text("COMMONWEAR_BACKUP_ROLE", None)
FIT_ROLE = env.text("COMMONWEAR_FIT_ROLE", None)
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}

# Accounts and sessions
AUTH_USER_MODEL = "accounts.Account"
PASSWORD_HASHERS = ["server.accounts.hashing.OneAtATime"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "server.accounts.passwords.EasyToGuessValidator"},
]
LOGIN_URL = "/sign-in/"
SESSION_ENGINE = "server.accounts.sessions"
SESSION_COOKIE_AGE = 12 * 3600  # unused
SESSION_LONGEST_S = 7 * 24 * 3600  # whether it is used or not
SESSION_COOKIE_NAME = "__Host-session" if PUBLIC else "session"
CSRF_COOKIE_NAME = "__Host-csrf" if PUBLIC else "csrf"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = PUBLIC
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
UNIT_COOKIE_NAME = "__Host-unit" if PUBLIC else "unit"
LANGUAGE_COOKIE_NAME = "__Host-language" if PUBLIC else "language"
LANGUAGE_COOKIE_AGE = 365 * 24 * 3600
LANGUAGE_COOKIE_HTTPONLY = True
LANGUAGE_COOKIE_SECURE = PUBLIC
LANGUAGE_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "server.web.middleware.form_refused"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# What a browser may do with our pages
SECURE_SSL_REDIRECT = PUBLIC
SECURE_REDIRECT_EXEMPT = [r"^health/", r"^metrics$"]
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if PUBLIC else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = PUBLIC
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if TRUSTED_PROXIES else None
SECURE_CONTENT_TYPE_NOSNIFF = True
# Other sites learn nothing; our own forms need their origin, which "no-referrer" would take from them.
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "worker-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "connect-src": [SELF],
        "font-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    },
}

# Bodies and files: held in memory, never spilled to a disk in clear; a longer body is refused unread
LARGEST_BODY_BYTES = 8 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = FILE_UPLOAD_MAX_MEMORY_SIZE = LARGEST_BODY_BYTES
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
FILE_UPLOAD_HANDLERS = ["django.core.files.uploadhandler.MemoryFileUploadHandler"]

STATIC_URL = "/static/"
STATIC_ROOT = PACKAGE / "static_built"
STATICFILES_DIRS = [PACKAGE / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage",
    },
}
WHITENOISE_USE_FINDERS = DEBUG

REST_FRAMEWORK = {
    "DEFAULT_RENDERER_CLASSES": ["server.api.rendering.ResultRenderer"],
    "DEFAULT_PARSER_CLASSES": ["server.api.parsing.BodyParser"],
    # Escaped, so that half a character that somebody sent can be told back.
    "UNICODE_JSON": False,
    "DEFAULT_AUTHENTICATION_CLASSES": ["server.api.authentication.BearerAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "EXCEPTION_HANDLER": "server.api.problems.answer_problem",
    "DEFAULT_SCHEMA_CLASS": "server.api.schema.Described",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Commonwear",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_NAME_OVERRIDES": {
        "WearState": "server.wears.transitions.STATES",
        "DraftState": "server.editions.drafts.DRAFT_STATES",
        "PartState": "server.editions.drafts.PART_STATES",
    },
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "server.api.schema.describe_what_all_share",
    ],
}

# The queue. It carries row ids only; the rows are the truth, so whatever it loses is sent again by the sweep.
_redis = env.secret_url("REDIS_URL", schemes=("redis", "rediss", "redis+socket"))
EMBEDDED_BROKER_SOCKET = DATA_DIR / "broker.sock"
EMBEDDED_BROKER = _redis is None
CELERY_BROKER_URL = f"redis+socket://{EMBEDDED_BROKER_SOCKET}" if _redis is None else _redis.geturl()
JOB_LIMIT_S = 900
CELERY_TASK_TIME_LIMIT = JOB_LIMIT_S
CELERY_TASK_SOFT_TIME_LIMIT = JOB_LIMIT_S - 30
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_PUBLISH_RETRY = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_CANCEL_LONG_RUNNING_TASKS_ON_CONNECTION_LOSS = True
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_BROKER_TRANSPORT_OPTIONS = {
    # Longer than the hard limit of a job: a shorter one would start a second run beside the first.
    "visibility_timeout": JOB_LIMIT_S + 300,
    "unacked_restore_interval": 5,
    "unacked_restore_throttle": 1,
    "socket_connect_timeout": 2,
    # A broker that is away is found out at once: nobody's request waits for it.
    "max_retries": 1,
    "interval_start": 0,
    "interval_step": 0.1,
    "interval_max": 0.1,
}

# For so long a page that is kept ready is handed out before the database is asked whether it still stands.
EDITION_LOOKUP_S = 1.0

LOG_FORMAT = env.choice("COMMONWEAR_LOG_FORMAT", "json" if PUBLIC else "words", options=("words", "json"))
DEFAULT_EXCEPTION_REPORTER = "server.core.reporting.PlacesOnly"
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"words": {"()": "server.core.logs.WithoutValues"}, "json": {"()": "server.core.logs.InJson"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": LOG_FORMAT}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": [], "level": "WARNING", "propagate": True},
        "django.request": {"level": "ERROR"},
        "django.server": {"handlers": [], "level": "ERROR", "propagate": True},
        # Whoever tries every address of the internet asks under names that are not ours; /metrics counts the answers.
        "django.security.DisallowedHost": {"level": "CRITICAL"},
        "server": {"level": "INFO"},
    },
}
