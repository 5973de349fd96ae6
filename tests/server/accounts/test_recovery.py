import pytest

from server.accounts import recovery
from server.accounts.models import RecoveryCode

pytestmark = pytest.mark.django_db


def test_a_code_serves_once_for_its_own_account_however_it_is_typed(new_member):
    one, other = new_member(), new_member()
    code = one.recovery_codes[2]
    assert not recovery.use_up(code, account=other.account)
    assert recovery.use_up(f" {code.upper()} ", account=one.account)
    assert not recovery.use_up(code, account=one.account)
    assert (recovery.n_left(one.account), recovery.n_left(other.account)) == (5, 6)


def test_new_codes_take_the_place_of_the_old_and_only_digests_are_kept(stranger):
    codes = recovery.new_codes(stranger.account)
    assert len(set(codes)) == recovery.n_left(stranger.account) == recovery.N_CODES
    assert not recovery.use_up(stranger.recovery_codes[0], account=stranger.account)
    assert not RecoveryCode.objects.filter(digest__in=codes).exists()
