"""The embedded shape: SQLite, a local folder, no servers. Also what `manage.py demo` runs."""

from helpdesk.config import env
from helpdesk.config.settings.base import *

DEBUG = env.flag("PRINTWARD_DEBUG", default=False)
SECRET_KEY = env.secret_key(DATA_DIR)
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]", *env.words("PRINTWARD_HOSTS")]
