import pytest

from server.accounts import services, throttles
from server.accounts.models import Attempt
from server.core import clock as clocks
from server.core.errors import TooMany, Unauthorised

pytestmark = pytest.mark.django_db
ADDRESS = "203.0.113.9"  # a documentation address, RFC 5737


@pytest.fixture
def hour(monkeypatch):
    monkeypatch.setattr(throttles, "MOST_TRIES_PER_HOUR", dict.fromkeys(throttles.MOST_TRIES_PER_HOUR, 3))
    now = [1000]
    monkeypatch.setattr(clocks, "hour", lambda: now[0])
    return now


def exhaust(purpose: str, value: str) -> None:
    for _ in range(3):
        throttles.count_try(purpose, value)


def test_an_hour_has_its_number_of_tries_and_the_next_begins_anew(hour):
    exhaust("join", ADDRESS)
    with pytest.raises(TooMany) as refused:
        throttles.count_try("join", ADDRESS)
    assert 0 < refused.value.retry_after_s <= 3600
    throttles.count_try("join", "203.0.113.10")
    throttles.count_try("sign-in", ADDRESS)
    hour[0] += 1
    throttles.count_try("join", ADDRESS)


def test_neither_address_nor_name_is_stored_and_hours_cannot_be_linked(hour):
    throttles.count_try("join", ADDRESS)
    hour[0] += 1
    throttles.count_try("join", ADDRESS)
    marks = list(Attempt.objects.values_list("mark", flat=True))
    assert len(set(marks)) == 2
    assert not any(ADDRESS in mark for mark in marks)
    assert throttles.drop_past_tries() == 1


def test_guessing_at_one_name_is_stopped_from_any_address(hour, new_member):
    member = new_member()
    for number in range(3):
        with pytest.raises(Unauthorised):
            services.sign_in(member.sign_in_name, "not the password", address=f"203.0.113.{number}")
    with pytest.raises(TooMany):
        services.sign_in(member.sign_in_name, member.password, address="203.0.113.77")


def test_a_member_who_gets_in_starts_anew(hour, new_member):
    member = new_member()
    for _ in range(8):
        assert services.sign_in(member.sign_in_name, member.password)


def test_recovery_codes_cannot_be_guessed_at_length(hour, new_member):
    member = new_member()
    for _ in range(3):
        with pytest.raises(Unauthorised):
            services.recover(member.sign_in_name, recovery_code="aaaa-bbbb-cccc-dddd", password=member.password)
    with pytest.raises(TooMany):
        services.recover(member.sign_in_name, recovery_code=member.recovery_codes[0], password=member.password)


def test_in_the_demo_everybody_comes_from_one_address(hour, settings):
    settings.DEMO = True
    for _ in range(9):
        throttles.count_try("join", ADDRESS)


NEW = "some other ordinary words"


@pytest.mark.parametrize(
    "guess",
    [
        lambda name: services.sign_in(name, "not the password", address=ADDRESS),
        lambda name: services.recover(name, recovery_code="aaaa-bbbb-cccc-dddd", password=NEW, address=ADDRESS),
    ],
    ids=["signing in", "recovering"],
)
def test_one_address_cannot_try_many_names(hour, db, guess):
    for number in range(3):
        with pytest.raises(Unauthorised):
            guess(f"quiet-otter-{number}")
    with pytest.raises(TooMany):
        guess("quiet-otter-77")


def test_that_somebody_tries_too_often_is_logged_and_not_who(hour, lines):
    exhaust("sign-in name", "quiet-otter-12345")
    with pytest.raises(TooMany):
        throttles.count_try("sign-in name", "quiet-otter-12345")
    (line,) = lines
    assert (line["level"], line["message"]) == ("warning", "too many tries: sign-in name")
    assert "otter" not in str(line)
