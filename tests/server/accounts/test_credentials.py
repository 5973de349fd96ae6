import pytest

from server.accounts import credentials, recovery, throttles
from server.accounts.models import WebSession
from server.accounts.selectors import account_for_token
from server.accounts.services import sign_in
from server.core.errors import Invalid, TooMany
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
NEW = "some other ordinary words"


def test_a_new_password_ends_every_sign_in(stranger, client):
    client.force_login(stranger.account)
    credentials.change_password(stranger.account, present_password=PASSWORD, password=NEW)
    assert account_for_token(stranger.token) is None
    assert not WebSession.objects.filter(account_id=stranger.account.pk).exists()
    assert sign_in(stranger.sign_in_name, NEW)


@pytest.mark.parametrize(
    ("present", "new", "pointer"),
    [("a wrong one entirely", NEW, "#/present_password"), (PASSWORD, "short", "#/password")],
)
def test_what_is_wrong_changes_nothing(stranger, present, new, pointer):
    with pytest.raises(Invalid) as refused:
        credentials.change_password(stranger.account, present_password=present, password=new)
    assert refused.value.faults[0]["pointer"] == pointer
    assert account_for_token(stranger.token) == stranger.account
    assert sign_in(stranger.sign_in_name, PASSWORD)


def test_recovery_codes_are_renewed_by_who_knows_the_password(stranger):
    with pytest.raises(Invalid):
        credentials.renew_recovery_codes(stranger.account, present_password="a wrong one entirely")
    assert recovery.use_up(stranger.recovery_codes[0], account=stranger.account)
    codes = credentials.renew_recovery_codes(stranger.account, present_password=PASSWORD)
    assert recovery.n_left(stranger.account) == len(codes) == recovery.N_CODES


def test_guesses_of_the_password_in_a_browser_that_was_left_open_are_few(stranger):
    for _ in range(throttles.MOST_TRIES_PER_HOUR["sign-in name"]):
        with pytest.raises(Invalid):
            credentials.check_present_password(stranger.account, "a wrong one entirely")
    with pytest.raises(TooMany):
        credentials.check_present_password(stranger.account, PASSWORD)


def test_signing_out_elsewhere_leaves_this_browser(stranger, client):
    client.force_login(stranger.account)
    sign_in(stranger.sign_in_name, PASSWORD)
    assert credentials.end_other_sign_ins(stranger.account, session_key=client.session.session_key) == 2
    assert account_for_token(stranger.token) is None
    assert WebSession.objects.filter(account_id=stranger.account.pk).count() == 1
