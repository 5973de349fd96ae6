import base64
from dataclasses import replace

import pyotp
import pytest

from server.accounts import recovery, second_factor, services, throttles
from server.accounts.models import SecondFactor
from server.core import rotation
from server.core.errors import Conflict, Invalid, TooMany, Unauthorised
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db

# RFC 6238 appendix B: the seed is the 20 ASCII digits "12345678901234567890", SHA-1, eight digits.
RFC_SECRET = base64.b32encode(b"12345678901234567890").decode()
RFC_VECTORS = {
    59: "94287082",
    1111111109: "07081804",
    1111111111: "14050471",
    1234567890: "89005924",
    2000000000: "69279037",
    20000000000: "65353130",
}
NOW_S = 1_900_000_000


@pytest.fixture
def at(monkeypatch):
    """Sets the second that it is; throttles go by the same."""

    def set_to(moment_s):
        monkeypatch.setattr("time.time", lambda: moment_s)

    set_to(NOW_S)
    return set_to


@pytest.fixture
def guarded(stranger, at):
    """Somebody with a second factor, and its secret. The code of half a minute ago was used up in confirming it."""
    setup = second_factor.begin(stranger.account)
    second_factor.confirm(stranger.account, one_time_code=second_factor.code_at(setup.secret, NOW_S - 30))
    return stranger, setup.secret


def enter(member, code=""):
    return services.check_sign_in(member.sign_in_name, PASSWORD, one_time_code=code)


@pytest.mark.parametrize("moment_s", RFC_VECTORS)
def test_codes_are_those_of_the_standard(moment_s):
    # Ours have six digits: the truncation of RFC 4226 takes the same number modulo 10^6 in place of 10^8.
    assert second_factor.code_at(RFC_SECRET, moment_s) == RFC_VECTORS[moment_s][-6:]
    assert pyotp.TOTP(RFC_SECRET, digits=8).at(moment_s) == RFC_VECTORS[moment_s]


def test_a_secret_asks_for_nothing_until_it_is_confirmed(stranger, at):
    setup = second_factor.begin(stranger.account)
    assert enter(stranger) == stranger.account
    assert second_factor.pending(stranger.account) == setup
    assert setup.address.startswith("otpauth://totp/Commonwear:")
    with pytest.raises(Invalid):
        second_factor.confirm(stranger.account, one_time_code="000000")
    assert not second_factor.is_on(stranger.account)


def test_without_a_code_only_who_knows_the_password_is_told_that_one_is_needed(guarded):
    member, _ = guarded
    with pytest.raises(second_factor.OneTimeCodeNeeded):
        enter(member)
    with pytest.raises(Unauthorised) as refused:
        services.check_sign_in(member.sign_in_name, "not the password at all")
    assert refused.value.detail == services.WRONG_SIGN_IN


@pytest.mark.parametrize("off_s", [0, 30])
def test_a_code_of_this_half_minute_or_one_beside_it_lets_in(guarded, off_s):
    member, secret = guarded
    code = second_factor.code_at(secret, NOW_S + off_s)
    assert enter(member, f"{code[:3]} {code[3:]}") == member.account


@pytest.mark.parametrize("off_s", [-60, 60, -300])
def test_codes_from_farther_away_do_not(guarded, off_s):
    member, secret = guarded
    with pytest.raises(second_factor.OneTimeCodeNeeded):
        enter(member, second_factor.code_at(secret, NOW_S + off_s))


def test_a_code_serves_once_and_none_before_it_afterwards(guarded, at):
    member, secret = guarded
    later = second_factor.code_at(secret, NOW_S + 30)
    enter(member, later)
    for used in (later, second_factor.code_at(secret, NOW_S)):
        with pytest.raises(second_factor.OneTimeCodeNeeded):
            enter(member, used)
    at(NOW_S + 60)
    assert enter(member, second_factor.code_at(secret, NOW_S + 60)) == member.account


def test_a_recovery_code_serves_in_its_place_and_is_used_up(guarded):
    member, _ = guarded
    code = member.recovery_codes[0]
    assert enter(member, code.upper()) == member.account
    assert recovery.n_left(member.account) == recovery.N_CODES - 1
    with pytest.raises(second_factor.OneTimeCodeNeeded):
        enter(member, code)


def test_recovering_asks_for_it_too_and_takes_a_further_recovery_code(guarded):
    member, _ = guarded
    first, second, *_ = member.recovery_codes
    words = {"password": "some other ordinary words"}
    for code in ("", first, "123456"):
        with pytest.raises(second_factor.OneTimeCodeNeeded):
            services.recover(member.sign_in_name, recovery_code=first, one_time_code=code, **words)
    assert recovery.n_left(member.account) == recovery.N_CODES
    assert services.recover(member.sign_in_name, recovery_code=first, one_time_code=second, **words)
    assert recovery.n_left(member.account) == recovery.N_CODES - 2


def test_guesses_are_few_and_a_right_code_is_then_refused_too(guarded):
    member, secret = guarded
    for _ in range(throttles.MOST_TRIES_PER_HOUR["one-time code"] - 1):  # one was spent in confirming
        with pytest.raises(second_factor.OneTimeCodeNeeded):
            enter(member, "000000")
    with pytest.raises(TooMany):
        enter(member, second_factor.code_at(secret, NOW_S))


def test_it_is_switched_off_with_a_code_and_not_set_up_twice(guarded):
    member, secret = guarded
    with pytest.raises(Conflict):
        second_factor.begin(member.account)
    with pytest.raises(Invalid):
        second_factor.end(member.account, one_time_code="000000")
    second_factor.end(member.account, one_time_code=second_factor.code_at(secret, NOW_S))
    assert enter(member) == member.account
    assert second_factor.pending(member.account) is None


def test_the_secret_is_kept_under_a_key_and_carried_to_a_new_one(guarded, settings):
    member, secret = guarded
    stored = bytes(SecondFactor.objects.get().secret)
    assert secret.encode() not in stored
    settings.KEYS = replace(settings.KEYS, mac_keys=(*settings.KEYS.mac_keys, "7a" * 32))
    assert rotation.carry_everything()["secrets of second factors"] == 1
    assert bytes(SecondFactor.objects.get().secret)[0] == 2
    assert enter(member, second_factor.code_at(secret, NOW_S)) == member.account


def test_guesses_beside_a_recovery_code_are_as_few(guarded):
    member, secret = guarded
    told = {"recovery_code": member.recovery_codes[0], "password": "some other ordinary words"}
    for _ in range(throttles.MOST_TRIES_PER_HOUR["one-time code"] - 1):
        with pytest.raises(second_factor.OneTimeCodeNeeded):
            services.recover(member.sign_in_name, one_time_code="000000", **told)
    with pytest.raises(TooMany):
        services.recover(member.sign_in_name, one_time_code=second_factor.code_at(secret, NOW_S), **told)
