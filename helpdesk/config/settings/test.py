"""Settings of the test suite; PRINTWARD_DATABASE moves it to PostgreSQL."""

import tempfile
from pathlib import Path

from helpdesk.config.settings.base import *

DATA_DIR = Path(tempfile.mkdtemp(prefix="printward-test-"))
# Training takes seconds and depends on nothing but the code, so one run's is the next one's.
READER_DIR = BASE_DIR / ".pytest_cache" / "reader"
SECRET_KEY = "only-for-tests-" + "x" * 50
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir()
WHITENOISE_AUTOREFRESH = True  # else every new client reads the whole static folder
OUTBOX_DIR = DATA_DIR / "outbox"
STORAGES = {
    **STORAGES,
    "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "photos": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "files": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "uploads": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "letters": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
}
CELERY_TASK_ALWAYS_EAGER = True
CELERY_TASK_EAGER_PROPAGATES = True
DESK_ADDRESS = "http://testserver"
LOGGING = {"version": 1, "disable_existing_loggers": False}
