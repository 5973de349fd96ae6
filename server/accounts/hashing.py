"""Passwords are hashed one at a time in a process: each takes 100 MiB of memory while it is looked at."""

from threading import Lock

from django.contrib.auth.hashers import Argon2PasswordHasher

_AT_WORK = Lock()


class OneAtATime(Argon2PasswordHasher):
    """Argon2 as Django sets it up. A few people who sign in together wait for one another, and no memory runs out."""

    def encode(self, password: str, salt: str) -> str:
        with _AT_WORK:
            return super().encode(password, salt)

    def verify(self, password: str, encoded: str) -> bool:
        with _AT_WORK:
            return super().verify(password, encoded)
