"""All settings. What differs between a laptop and a clinic comes from the environment; README.md lists the variables.

No DATABASE_URL means that there is no database and no other secret to keep: enough for `replay` and
`makemigrations --check`. `manage.py` gives one (the embedded server's) to every command that needs it. With a
DATABASE_URL, SECRET_KEY has no default.
"""

import secrets
from pathlib import Path

from celery.schedules import schedule
from csp.constants import NONE, SELF

from clinic.run import variables
from clinic.watch import limits

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(variables.text("DATA_DIR", str(BASE_DIR / ".data")))
DEMO = variables.flag("CLINIC_DEMO", default=False)
CLOCK_CAN_BE_SET = DEMO  # clinic.clock.at_instant; tests set it for themselves
DEBUG = False
CLINIC_NAME = variables.text("CLINIC_NAME", "Alder Reach" if DEMO else "Our clinic")
CLINIC_TELEPHONE = variables.text("CLINIC_TELEPHONE", "00000 100 100" if DEMO else "")  # on the page to take home

# --- the surroundings ------------------------------------------------------------------------------------------------
DATABASE_URL = variables.text("DATABASE_URL")
DATABASES = {"default": variables.database(DATABASE_URL)} if DATABASE_URL else {}
BROKER_URL = variables.text("BROKER_URL", "redis://127.0.0.1:1/0")
CACHE_URL = variables.text("CACHE_URL", BROKER_URL.rsplit("/", 1)[0] + "/1")
SECRET_KEY = (
    variables.required("SECRET_KEY", "give a long random text of your own, the same for web, worker and scheduler.")
    if DATABASE_URL
    else secrets.token_urlsafe(48)
)
PUBLIC_ADDRESS = variables.text("PUBLIC_ADDRESS", "http://127.0.0.1:8000").rstrip("/")
ALLOWED_HOSTS = variables.listing("ALLOWED_HOSTS", "127.0.0.1,localhost,[::1]")
HTTPS = variables.flag("HTTPS", default=PUBLIC_ADDRESS.startswith("https://"))

# --- apps ------------------------------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "clinic",
    "caseload",
    "checklists",
    "api",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "csp",
    "rest_framework",
    "knox",
    "drf_spectacular",
    "drf_standardized_errors",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "clinic.web.policy.ContentPolicy",
    "clinic.web.headers.PrivacyHeaders",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "clinic.web.language.LanguageOfBrowser",
    "api.problems.ProblemsBelowApi",
    "clinic.web.sent.Bounds",
    "clinic.web.origin.ComesFrom",
    "clinic.web.identity.AsNobody",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "clinic.web.device.TellsDevice",
    "clinic.web.entrance.IdleTimeOut",
    "clinic.web.language.LanguageOfStaff",
    "clinic.web.sitting.SittingOfRequest",
    "clinic.web.limits.Limits",
    "clinic.web.identity.AsWhoIsSignedIn",
    "clinic.web.entrance.SignInRequired",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "clinic.web.faults.Refusals",
]
ROOT_URLCONF = "clinic.urls"
WSGI_APPLICATION = "clinic.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["django.templatetags.i18n", "clinic.web.tags"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.csrf",
                "django.contrib.messages.context_processors.messages",
                "clinic.web.shell.shell",
            ],
        },
    },
]

# --- language, time, static files ------------------------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"  # the texts in the code, and of whoever asks for a language that is not here
LANGUAGES = [("en-gb", "English"), ("es", "Español")]  # each by its own name, whoever reads the list
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"  # stored and handed around in UTC; a site's own zone is used where people read it
STATIC_URL = "static/"
STATIC_ROOT = variables.text("STATIC_ROOT", str(DATA_DIR / "static"))
HASHED_NAMES = variables.flag("STATIC_HASHED_NAMES", default=True)  # need `collectstatic`; the tests do without
_STATIC = (
    "clinic.web.static_names.HashedNames" if HASHED_NAMES else "django.contrib.staticfiles.storage.StaticFilesStorage"
)
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": _STATIC},
}
WHITENOISE_USE_FINDERS = not HASHED_NAMES

# --- people and sessions ---------------------------------------------------------------------------------------------
AUTH_USER_MODEL = "clinic.Staff"
AUTHENTICATION_BACKENDS = ["clinic.staff.sign_in.StaffBackend"]
LOGIN_URL = "sign_in"
PASSWORD_HASHERS = [
    "clinic.staff.hashers.DemoHasher" if DEMO else "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 15}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "clinic.staff.passwords.NotGuessable"},
]
IDLE_SECONDS = variables.number("IDLE_SECONDS", 15 * 60)  # clinic.web.entrance ends a session that nobody uses
PIN_IDLE_MINUTES = variables.number("PIN_IDLE_MINUTES", 5)  # … and on a gym tablet, opened by PIN, sooner
SESSION_HOURS = variables.number("SESSION_HOURS", 12)  # … or that is older than a long day
SESSION_COOKIE_AGE = 24 * 3600  # longer than either, so that what an ended session had typed still finds its author
CSRF_FAILURE_VIEW = "clinic.web.faults.csrf_failure"
MESSAGE_TAGS = {20: "yours", 25: "good", 30: "check", 40: "stop"}  # info, success, warning, error: kinds of a note
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
# A browser takes a name that begins so only with Secure, without a domain and for the whole host: no neighbour sets it.
COOKIE_PREFIX = "__Host-" if HTTPS else ""
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}sessionid", f"{COOKIE_PREFIX}csrftoken"
CSRF_COOKIE_SAMESITE = "Lax"
LANGUAGE_COOKIE_NAME = f"{COOKIE_PREFIX}language"  # chosen at the door of this browser (clinic/web/language.py)
LANGUAGE_COOKIE_AGE, LANGUAGE_COOKIE_SECURE = 365 * 24 * 3600, HTTPS
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"  # what was done is nobody's cookie
CSRF_TRUSTED_ORIGINS = [PUBLIC_ADDRESS]

# --- what browsers are told ------------------------------------------------------------------------------------------
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "media-src": [NONE],
        "frame-src": [NONE],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "require-trusted-types-for": ["'script'"],  # no text becomes markup or code in the browser …
        # … and the one rule that a script may make admits the address of our worker (static/clinic/device/register.js)
        "trusted-types": ["worker-address"],
    },
}
X_FRAME_OPTIONS = "DENY"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 365 * 24 * 3600 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
# What a proxy says about a request is believed only where one stands in front, and only what the nearest ones added.
PROXIES = variables.number("PROXIES", 1) if variables.flag("BEHIND_PROXY", default=False) else 0
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if PROXIES else None
USE_X_FORWARDED_HOST = USE_X_FORWARDED_PORT = False
# health is asked from inside, over plain HTTP; the API refuses plain HTTP rather than lead on (clinic/web/sent.py)
SECURE_REDIRECT_EXEMPT = [r"^(health|live)$", r"^api/"]

# --- cache, e-mail, background work ----------------------------------------------------------------------------------
CACHES = {"default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": CACHE_URL}}
EMAIL_HOST = variables.text("EMAIL_HOST")
EMAIL_BACKEND = "django.core.mail.backends." + ("smtp" if EMAIL_HOST else "console") + ".EmailBackend"
EMAIL_PORT = variables.number("EMAIL_PORT", 25)
EMAIL_HOST_USER = variables.text("EMAIL_USER")
EMAIL_HOST_PASSWORD = variables.text("EMAIL_PASSWORD")
EMAIL_USE_TLS = variables.flag("EMAIL_TLS", default=False)
EMAIL_TIMEOUT = 10
DEFAULT_FROM_EMAIL = SERVER_EMAIL = variables.text("EMAIL_FROM", "clinic@localhost")

CELERY_BROKER_URL = BROKER_URL
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    # a task of a killed worker comes back within seconds, not minutes: kombu's defaults look every 10 s × 10
    "visibility_timeout": 120,
    "unacked_restore_interval": 2,
    "unacked_restore_throttle": 1,
    "socket_timeout": 5,
    "socket_connect_timeout": 2,
}
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TASK_PUBLISH_RETRY_POLICY = {"max_retries": 1, "interval_start": 0, "interval_step": 0.05, "interval_max": 0.1}
CELERY_TIMEZONE = "UTC"
SEAL_SECONDS = variables.number("SEAL_SECONDS", 20)  # how often what was written is sealed; a minute is promised
# name of a task → how often it is woken. Tasks hold no rules; a wake-up that is lost is made good by the next one.
SCAN_SECONDS = variables.number("SCAN_SECONDS", 60)  # what need not be known within seconds
CELERY_BEAT_SCHEDULE: dict[str, dict[str, str | schedule]] = {
    name: {"task": task, "schedule": schedule(seconds)}
    for name, task, seconds in (
        ("outbox", "clinic.tasks.drain_outbox", 2.0),
        ("deadlines", "checklists.tasks.scan_deadlines", 10.0),
        ("boards", "checklists.tasks.refresh_stale_boards", SCAN_SECONDS / 2),
        ("escalation", "checklists.tasks.escalate_alerts", SCAN_SECONDS / 2),
        ("reviews", "checklists.tasks.scan_reviews", SCAN_SECONDS),
        ("house", "checklists.tasks.keep_house", 600.0),
        ("ended", "clinic.tasks.forget_ended", 3600.0),
        ("moves", "clinic.tasks.move_staff", SCAN_SECONDS),
        ("seal", "clinic.tasks.seal_ledger", float(SEAL_SECONDS)),
        ("verify", "clinic.tasks.verify_ledger", 3600.0),
        ("checkpoint mail", "clinic.tasks.mail_checkpoint", 3600.0),
    )
}
OUTBOX_LEASE_SECONDS = variables.number("OUTBOX_LEASE_SECONDS", 60)

# --- the ledger (clinic/ledger/): its keys are files that the database never sees -------------------------------------
LEDGER_KEYS = variables.text("LEDGER_KEYS", str(DATA_DIR / "keys"))
LEDGER_CHECKPOINT_FILE = variables.text("LEDGER_CHECKPOINT_FILE", str(DATA_DIR / "checkpoints.txt"))
LEDGER_WITNESSES = [address.rstrip("/") for address in variables.listing("LEDGER_WITNESSES")]
# The address of a time-stamping authority (RFC 3161), and a file with its roots as PEM.
LEDGER_TSA = variables.text("LEDGER_TSA")
LEDGER_TSA_ROOTS = variables.text("LEDGER_TSA_ROOTS")
LEDGER_STAMPS = variables.text("LEDGER_STAMPS", str(DATA_DIR / "stamps"))

# --- keeping and giving out -------------------------------------------------------------------------------------------
CORRECTION_DAYS = variables.number("CORRECTION_DAYS", 30)  # by when an answer is due: common practice; the law decides
ARCHIVE_HOURS = variables.number("ARCHIVE_HOURS", 24)  # how long a person's archive waits to be taken
ERASURES_FILE = variables.text("ERASURES_FILE", str(DATA_DIR / "erasures.jsonl"))  # outside the database, on purpose

# --- what must not stop unnoticed (clinic/watch/limits.py has the table and says what each number means) --------------
WATCH_LIMITS = {one.name: variables.number(one.variable, one.default(demo=DEMO)) for one in limits.LIMITS}
BACKUP_FOLDER = variables.text("BACKUP_FOLDER", str(DATA_DIR / "backups"))
BACKUPS_KEPT = variables.number("BACKUPS_KEPT", 14)
WATCH_FOLDERS = variables.listing("WATCH_FOLDERS") or [str(DATA_DIR), BACKUP_FOLDER]  # on the disks whose room counts

# --- how soon an alert that nobody answers goes to the lead, in minutes: the clinic's own choice ----------------------
ESCALATE_AFTER_MINUTES = {
    "critical": variables.number("ESCALATE_CRITICAL_MINUTES", 30),
    "major": variables.number("ESCALATE_MAJOR_MINUTES", 24 * 60),
    "minor": variables.number("ESCALATE_MINOR_MINUTES", 7 * 24 * 60),
}

# --- the API ---------------------------------------------------------------------------------------------------------
DATA_UPLOAD_MAX_MEMORY_SIZE = 32 * 1024 * 1024  # a thousand entries with every text as long as may be
DATA_UPLOAD_MAX_NUMBER_FIELDS = 1_000
FORM_MAX_BYTES = 2 * 1024 * 1024  # a form of a page (clinic/web/sent.py)
STRANGER_MAX_BYTES = 64 * 1024  # whatever comes without a session or a token
FILE_UPLOAD_HANDLERS = ["clinic.web.sent.NoFiles"]  # no page takes a file
# how many requests in how many seconds (clinic/web/limits.py): of one account, or of one address without an account
LIMITS = {
    "page": (300, 60),
    "poll": (600, 60),  # pages that are open on several tablets ask by themselves
    "api": (600, 60),
    "search": (60, 60),
    "export": (60, 3600),
    "caller": (1200, 60),  # an address that comes with tokens
    "stranger": (300, 60),
}
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [  # the token first, so that a stranger is answered 401 and not 403
        "api.authentication.SessionToken",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["api.rendering.FastJson"],
    "DEFAULT_PARSER_CLASSES": ["api.parsing.FastJsonParser"],
    "DEFAULT_SCHEMA_CLASS": "api.schema.Schema",
    "EXCEPTION_HANDLER": "drf_standardized_errors.handler.exception_handler",
}
API_ERRORS = ["400", "401", "403", "404", "405", "406", "409", "410", "412", "413", "415", "422", "428", "429", "500"]
DRF_STANDARDIZED_ERRORS = {
    "EXCEPTION_HANDLER_CLASS": "api.problems.Handler",
    "EXCEPTION_FORMATTER_CLASS": "api.problems.Formatter",
    "ALLOWED_ERROR_STATUS_CODES": API_ERRORS,
    "ERROR_SCHEMAS": dict.fromkeys(API_ERRORS, "api.problems.ProblemShape"),
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Clinic API",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "DEFAULT_GENERATOR_CLASS": "api.description.Description",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "ENUM_NAME_OVERRIDES": {
        "RoleEnum": "clinic.staff.roles.Role",
        "MeaningEnum": "checklists.signoff.meaning.Meaning",
        "LeftRightEnum": "api.shapes.LEFT_RIGHT",
        "AlertStateEnum": "api.alerts.STATES",
    },
}

# --- logs: no local variables, no request bodies, no text of an exception (clinic/logs.py) ---------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"discreet": {"()": "clinic.logs.Discreet"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "discreet"}},
    "root": {"handlers": ["console"], "level": variables.text("LOG_LEVEL", "WARNING")},
    # Django's own would send a faulty request by mail, with all that stood in it
    "loggers": {"django": {"handlers": [], "propagate": True}},
}
