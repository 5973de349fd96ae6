"""Recovery codes: made for an account, shown once, each good for one use; only keyed digests are kept."""

from typing import Final

from server.accounts import names
from server.accounts.models import Account, RecoveryCode
from server.core import keys

N_CODES: Final = 6
RECOVERY_CODE: Final = "recovery code"


def new_codes(account: Account) -> tuple[str, ...]:
    """Fresh codes in place of those that the account had."""
    codes = tuple(names.new_recovery_code() for _ in range(N_CODES))
    RecoveryCode.objects.filter(account=account).delete()
    RecoveryCode.objects.bulk_create(
        RecoveryCode(account=account, digest=_digests(code)[-1], key_version=keys.key_version()) for code in codes
    )
    return codes


def use_up(code: str, *, account: Account) -> bool:
    """Take one of the account's codes away; False if it is none of them."""
    return bool(RecoveryCode.objects.filter(account=account, digest__in=_digests(code)).delete()[0])


def n_left(account: Account) -> int:
    return RecoveryCode.objects.filter(account=account).count()


def _digests(code: str) -> list[str]:
    """Under each key so far; a kept one may be of any of them."""
    return keys.written_marks(RECOVERY_CODE, code.strip().lower().encode())
