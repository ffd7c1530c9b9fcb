"""Settings common to every way of running the desk."""

from pathlib import Path

from csp.constants import NONE, SELF

from helpdesk.config import env

BASE_DIR = Path(__file__).resolve().parents[3]
DATA_DIR = Path(env.text("PRINTWARD_DATA") or BASE_DIR / "data").resolve()

DEBUG = False
USE_TZ = True
TIME_ZONE = env.text("PRINTWARD_TIME_ZONE", "Europe/London")
LANGUAGE_CODE = "en-gb"
USE_I18N = True
ROOT_URLCONF = "helpdesk.config.urls"
WSGI_APPLICATION = "helpdesk.config.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
APPEND_SLASH = False

INSTALLED_APPS = [
    "helpdesk.core",
    "helpdesk.accounts",
    "helpdesk.cases",
    "helpdesk.outbox",
    "helpdesk.photos",
    "helpdesk.printfiles",
    "helpdesk.diagnosis",
    "helpdesk.people",
    "helpdesk.answers",
    "helpdesk.supply",
    "helpdesk.search",
    "helpdesk.incoming",
    "helpdesk.intake",
    "helpdesk.review",
    "helpdesk.followup",
    "helpdesk.episodes",
    "helpdesk.learning",
    "helpdesk.agreement",
    "helpdesk.mailroom",
    "helpdesk.hooks",
    "helpdesk.api",
    "helpdesk.capture",
    "helpdesk.duplicates",
    "helpdesk.conversation",
    "helpdesk.keeping",
    "helpdesk.week",
    "helpdesk.choosing",
    "helpdesk.presenting",
    "helpdesk.aftershow",
    "helpdesk.archive",
    "helpdesk.season",
    "helpdesk.demo",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "helpdesk.core.middleware.CompressedPagesMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "helpdesk.core.middleware.PrivatePagesMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

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
                "helpdesk.core.context.desk",
                "helpdesk.review.context.tabs",
            ],
        },
    },
]

SQLITE = {
    "ENGINE": "django.db.backends.sqlite3",
    "NAME": DATA_DIR / "desk.sqlite3",
    # Opening one sets the pragmas below, and closing the last one empties the log.
    "CONN_MAX_AGE": 60,
    "OPTIONS": {
        # Writers queue for the lock instead of failing half-way through a transaction.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        # What is erased is overwritten in the file, not only unlinked (secure_delete).
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; "
        "PRAGMA foreign_keys=ON; PRAGMA secure_delete=ON;",
    },
}
DATABASES = {"default": env.database("PRINTWARD_DATABASE") or SQLITE}

AUTH_USER_MODEL = "accounts.User"
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 15},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "accounts:login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "intake:report"
SESSION_COOKIE_AGE = 14 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "helpdesk.core.views.csrf_failure"

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
WHITENOISE_USE_FINDERS = True

# Photos are private: they are read through a view that checks who asks, never served by address.
STORAGES = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": DATA_DIR / "media"},
    },
    "photos": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": DATA_DIR / "photos", "file_permissions_mode": 0o600},
    },
    "files": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": DATA_DIR / "files", "file_permissions_mode": 0o600},
    },
    "letters": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": DATA_DIR / "letters", "file_permissions_mode": 0o600},
    },
    "uploads": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": DATA_DIR / "uploads", "file_permissions_mode": 0o600},
    },
    "tables": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": DATA_DIR / "tables", "file_permissions_mode": 0o600},
    },
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_621_440  # bytes of the fields that are not files
DATA_UPLOAD_MAX_NUMBER_FIELDS = 400
DATA_UPLOAD_MAX_NUMBER_FILES = 20
FILE_UPLOAD_MAX_MEMORY_SIZE = 262_144
FILE_UPLOAD_HANDLERS = [
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "helpdesk.photos.uploads.LimitedUploadHandler",
]

# Celery: the message only says "there is work"; the work itself is a row (core.Job).
REDIS_URL = env.text("PRINTWARD_REDIS")
READER_DIR = DATA_DIR  # where a classifier trained on the stories alone is kept
TASK_DIR = DATA_DIR / "tasks"
CELERY_BROKER_URL = REDIS_URL or "filesystem://"
if not REDIS_URL:
    CELERY_BROKER_TRANSPORT = "helpdesk.core.folder_queue:Transport"
CELERY_BROKER_TRANSPORT_OPTIONS = (
    {"visibility_timeout": 900, "unacked_restore_interval": 5, "unacked_restore_throttle": 2}
    if REDIS_URL
    else {
        "data_folder_in": str(TASK_DIR / "queue"),
        "data_folder_out": str(TASK_DIR / "queue"),
        "control_folder": str(TASK_DIR / "control"),
        "store_processed": False,
        "polling_interval": 0.1,
    }
)
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_TIME_LIMIT = 300
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TASK_PUBLISH_RETRY = False  # a visitor does not wait for a broker: the row is sent again
CELERY_TIMEZONE = TIME_ZONE
CELERY_BEAT_SCHEDULE_FILENAME = str(TASK_DIR / "beat-schedule")
CELERY_BEAT_SCHEDULE = {
    "resend-stale-jobs": {"task": "helpdesk.core.tasks.resend_stale_jobs", "schedule": 15.0},
    "daily-rounds": {"task": "helpdesk.core.tasks.run_rounds", "schedule": 600.0},
}

CACHES = {
    "default": (
        {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
        if REDIS_URL
        else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
    )
}

EMAIL_HOST = env.text("PRINTWARD_SMTP_HOST")
EMAIL_PORT = env.number("PRINTWARD_SMTP_PORT", 587)
EMAIL_HOST_USER = env.text("PRINTWARD_SMTP_USER")
EMAIL_HOST_PASSWORD = env.text("PRINTWARD_SMTP_PASSWORD")
EMAIL_USE_TLS = env.flag("PRINTWARD_SMTP_STARTTLS", default=True)
EMAIL_USE_SSL = env.flag("PRINTWARD_SMTP_TLS", default=False)
EMAIL_TIMEOUT = 20
EMAIL_BACKEND = (
    "helpdesk.outbox.smtp.EnvelopeBackend"
    if EMAIL_HOST
    else "helpdesk.outbox.backend.OutboxFolderBackend"
)
OUTBOX_DIR = DATA_DIR / "outbox"
# Mailboxes the desk reads, as addresses with user and password; see docs/mail.md.
MAIL_IN = env.text("PRINTWARD_MAIL_IN")
MAIL_IN_PASSWORD_FILE = env.text("PRINTWARD_MAIL_IN_PASSWORD_FILE")
DEFAULT_FROM_EMAIL = env.text("PRINTWARD_MAIL_FROM", "Printward <clinic@marrowlane.example>")

# What the desk calls itself on its pages and in its letters.
DESK_NAME = env.text("PRINTWARD_DESK_NAME", "Marrow Lane Makers’ Room")
SHOW_NAME = env.text("PRINTWARD_SHOW_NAME", "The Salvage Hour")
# Links in letters are built from this address, never from the request's Host header.
DESK_ADDRESS = env.text(
    "PRINTWARD_ADDRESS", f"http://127.0.0.1:{env.number('PRINTWARD_PORT', 8000)}"
)
FOLLOW_UP_DAYS = env.number("PRINTWARD_FOLLOW_UP_DAYS", 14)
# Days after that question until the one reminder; 0 sends none.
REMIND_DAYS = env.number("PRINTWARD_REMIND_DAYS", 14)
# Days after the last question until a case nobody was heard of is closed as unknown; 0 never.
UNKNOWN_DAYS = env.number("PRINTWARD_UNKNOWN_DAYS", 14)
# Days a maker has to reply before something adverse is said of them; see docs/fairness.md.
REPLY_DAYS = env.number("PRINTWARD_REPLY_DAYS", 7)
# Answered cases nobody has written about for so many days are closed; 0 leaves them open.
CLOSE_SILENT_DAYS = env.number("PRINTWARD_CLOSE_SILENT_DAYS", 60)
# Whether reports are also read by their meaning, where the sentence model is installed.
READ_BY_MEANING = env.flag("PRINTWARD_MEANING", default=False)
# Days the log of hooks is kept, at least 4; and how many messages may wait before more are put off.
HOOK_DAYS = env.number("PRINTWARD_HOOK_DAYS", 30)
HOOK_BACKLOG = env.number("PRINTWARD_HOOK_BACKLOG", 20_000)

# For how many days things are kept; 0 keeps them. See keeping.rules.
KEEP_DAYS = {
    "cases": env.number("PRINTWARD_KEEP_CASES_DAYS", 0),
    "contact": env.number("PRINTWARD_KEEP_CONTACT_DAYS", 0),
    "mail": env.number("PRINTWARD_KEEP_MAIL_DAYS", 0),
    "originals": env.number("PRINTWARD_KEEP_ORIGINALS_DAYS", 0),
    "log": env.number("PRINTWARD_KEEP_LOG_DAYS", 0),
}

# How often one visitor may do what costs the desk work; 0 means no limit. See core.limits.
LIMITS = {
    "reports": env.number("PRINTWARD_LIMIT_REPORTS", 40),
    # One person who writes for half an hour asks some 300 times.
    "previews": env.number("PRINTWARD_LIMIT_PREVIEWS", 1200),
    "uploads": env.number("PRINTWARD_LIMIT_UPLOADS", 300),
    "replies": env.number("PRINTWARD_LIMIT_REPLIES", 60),
    "new_links": env.number("PRINTWARD_LIMIT_NEW_LINKS", 20),
    "unknown_links": env.number("PRINTWARD_LIMIT_UNKNOWN_LINKS", 60),
    "hooks": env.number("PRINTWARD_LIMIT_HOOKS", 7200),
    "mail_receipts": env.number("PRINTWARD_LIMIT_MAIL_RECEIPTS", 600),
    "api_calls": env.number("PRINTWARD_LIMIT_API_CALLS", 6000),
    "api_refusals": env.number("PRINTWARD_LIMIT_API_REFUSALS", 120),
    "copies": env.number("PRINTWARD_LIMIT_COPIES", 6),
    "logins": env.number("PRINTWARD_LIMIT_LOGINS", 12),
    "logins_address": env.number("PRINTWARD_LIMIT_LOGINS_ADDRESS", 40),
}
# Hosts of the desk's own network that may be called though an address of theirs came from outside;
# plain http is good enough for them. See incoming.fetching.
INSIDE_HOSTS = env.words("PRINTWARD_INSIDE_HOSTS")
# The proxies whose word on a visitor's address is believed.
TRUSTED_PROXIES = frozenset(env.words("PRINTWARD_TRUSTED_PROXY"))

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "blob:", "data:"],
        "media-src": [SELF, "blob:"],  # a recording played from its owner’s computer, never sent
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": "INFO"},
    "loggers": {"django.server": {"level": "WARNING"}, "celery": {"level": "WARNING"}},
}
