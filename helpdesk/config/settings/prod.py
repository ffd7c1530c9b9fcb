"""A desk on the public net behind a TLS proxy: everything secret comes from the environment."""

from helpdesk.config import env
from helpdesk.config.settings.base import *

SECRET_KEY = env.require("PRINTWARD_SECRET_KEY")
SECRET_KEY_FALLBACKS = env.words("PRINTWARD_OLD_SECRET_KEYS")
ALLOWED_HOSTS = env.words("PRINTWARD_HOSTS") or [env.require("PRINTWARD_HOSTS")]
DESK_ADDRESS = env.require("PRINTWARD_ADDRESS")
CSRF_TRUSTED_ORIGINS = [DESK_ADDRESS]

SECURE_SSL_REDIRECT = True
# Another program is never sent on to another address: it is refused there (see hooks.endpoint).
SECURE_REDIRECT_EXEMPT = ["^hooks/in/"]
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_HSTS_SECONDS = 31_536_000
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
SESSION_COOKIE_SECURE = True
SESSION_COOKIE_NAME = "__Host-desk"
CSRF_COOKIE_SECURE = True
CSRF_COOKIE_NAME = "__Host-token"
WHITENOISE_USE_FINDERS = False
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
