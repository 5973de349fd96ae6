import threading
from concurrent.futures import ThreadPoolExecutor

from django.contrib.auth.hashers import Argon2PasswordHasher, check_password, identify_hasher

from server import settings as ours
from server.accounts import hashing
from server.accounts.hashing import OneAtATime


def test_it_is_the_hasher_of_the_service_and_the_one_that_django_knows(settings):
    settings.PASSWORD_HASHERS = ours.PASSWORD_HASHERS
    encoded = Argon2PasswordHasher().encode("four ordinary words", "salt of a test")
    assert isinstance(identify_hasher(encoded), OneAtATime)
    assert check_password("four ordinary words", encoded)
    assert not check_password("four other words", encoded)
    assert OneAtATime().encode("four ordinary words", "salt of a test") == encoded


def test_people_who_sign_in_together_wait_for_one_another(monkeypatch):
    at_work, most, seen = 0, 0, threading.Event()

    def slow(self, password, encoded):
        nonlocal at_work, most
        at_work += 1
        most = max(most, at_work)
        seen.wait(0.02)
        at_work -= 1
        return True

    monkeypatch.setattr(hashing.Argon2PasswordHasher, "verify", slow)
    with ThreadPoolExecutor(4) as people:
        assert all(people.map(lambda _: OneAtATime().verify("words", "hash"), range(8)))
    assert most == 1
