"""The service as it is; passwords may also come from a cheap hash, and are hashed as ever once somebody signs in."""

from server.settings import *  # noqa: F403
from server.settings import PASSWORD_HASHERS as _OURS

PASSWORD_HASHERS = [*_OURS, "django.contrib.auth.hashers.MD5PasswordHasher"]
