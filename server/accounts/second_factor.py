"""A second factor for signing in: six digits that change every half minute (TOTP, RFC 6238), for whoever wants it.

The secret that an account shares with its authenticator app is encrypted under a key that is not in the database. Each
code serves once: the number of its half minute is kept, and no code of that one or an earlier one is taken again.
"""

import time
from dataclasses import dataclass, field
from typing import Final
from uuid import UUID

import pyotp
from django.db import transaction
from django.db.models import Q
from pyotp.utils import strings_equal

from server.accounts import recovery, throttles
from server.accounts.agreements import refuse
from server.accounts.models import Account, SecondFactor
from server.core import keys
from server.core.errors import Conflict, Unauthorised

PURPOSE: Final = "secret of a second factor"
ISSUER: Final = "Commonwear"
STEP_S: Final = 30
STEPS_TAKEN: Final = (0, -1, 1)  # clocks of phones are a little off
N_DIGITS: Final = 6
WRONG_CODE: Final = "This code does not fit, or was used before. Wait for the next six digits and type those."


class OneTimeCodeNeeded(Unauthorised):
    code = "one-time-code-needed"
    title = "A code of your authenticator app is needed"

    def __init__(self, detail: str, *, account_id: UUID) -> None:
        super().__init__(detail)
        self.account_id = account_id


@dataclass(frozen=True, slots=True)
class Setup:
    """What an authenticator app has to be told, once."""

    secret: str = field(repr=False)
    address: str = field(repr=False)


@transaction.atomic
def begin(account: Account) -> Setup:
    """A fresh secret, which asks for nothing until a code made with it has been confirmed."""
    if is_on(account):
        raise Conflict("The second factor is on already. Switch it off before you set it up anew.")
    secret = pyotp.random_base32()
    stored = keys.encrypt(PURPOSE, secret.encode(), about=account.pk.bytes)
    SecondFactor.objects.update_or_create(
        account=account, defaults={"secret": stored, "confirmed": False, "last_step": None}
    )
    return Setup(secret, pyotp.TOTP(secret).provisioning_uri(name=account.sign_in_name, issuer_name=ISSUER))


def pending(account: Account) -> Setup | None:
    """What was begun and not confirmed yet."""
    factor = SecondFactor.objects.filter(account=account, confirmed=False).first()
    if factor is None:
        return None
    secret = _secret(factor)
    return Setup(secret, pyotp.TOTP(secret).provisioning_uri(name=account.sign_in_name, issuer_name=ISSUER))


def confirm(account: Account, *, one_time_code: str) -> None:
    """Switch the second factor on, once the app has shown that it makes the right codes."""
    throttles.count_try("one-time code", str(account.pk))
    factor = SecondFactor.objects.filter(account=account, confirmed=False).first()
    if factor is None:
        raise Conflict("There is nothing to confirm. Begin by having a secret made.")
    if not _takes(factor, one_time_code):
        refuse("#/one_time_code", WRONG_CODE)
    SecondFactor.objects.filter(account=account).update(confirmed=True)


def end(account: Account, *, one_time_code: str) -> None:
    """Switch it off, with a code of the app or a recovery code."""
    factor = SecondFactor.objects.filter(account=account).first()
    if factor is None:
        return
    if factor.confirmed and not _fits(factor, one_time_code):
        refuse("#/one_time_code", WRONG_CODE)
    SecondFactor.objects.filter(account=account).delete()


def is_on(account: Account) -> bool:
    return SecondFactor.objects.filter(account=account, confirmed=True).exists()


def check(account: Account, one_time_code: str) -> None:
    """Let through whoever has the second factor, or one of the recovery codes, which is then used up."""
    factor = SecondFactor.objects.filter(account=account, confirmed=True).first()
    if factor is None:
        return
    if not one_time_code.strip():
        raise OneTimeCodeNeeded(
            "Type the six digits that your authenticator app shows now, or one of your recovery codes.",
            account_id=account.pk,
        )
    if not _fits(factor, one_time_code):
        raise OneTimeCodeNeeded(WRONG_CODE, account_id=account.pk)


def code_at(secret: str, moment_s: float) -> str:
    return pyotp.TOTP(secret, digits=N_DIGITS, interval=STEP_S).at(int(moment_s))


def carry_secrets() -> int:
    """Encrypt anew what is under an older key; how many."""
    behind = [factor for factor in SecondFactor.objects.all() if keys.is_behind(bytes(factor.secret))]
    for factor in behind:
        factor.secret = keys.encrypt(PURPOSE, _secret(factor).encode(), about=factor.account_id.bytes)
        factor.save(update_fields=["secret"])
    return len(behind)


def _secret(factor: SecondFactor) -> str:
    return keys.decrypt(PURPOSE, bytes(factor.secret), about=factor.account_id.bytes).decode()


def _fits(factor: SecondFactor, code: str) -> bool:
    """Whether it is a code of the app or a recovery code; either is then used up."""
    throttles.count_try("one-time code", str(factor.account_id))
    fits = _takes(factor, code) or recovery.use_up(code, account=factor.account)
    if fits:
        throttles.forget_tries("one-time code", str(factor.account_id))
    return fits


def _takes(factor: SecondFactor, one_time_code: str) -> bool:
    """Whether the code is of this half minute or one beside it, and of none that served before."""
    typed, now = "".join(one_time_code.split()), int(time.time()) // STEP_S
    secret = _secret(factor)
    fitting = [now + step for step in STEPS_TAKEN if strings_equal(code_at(secret, (now + step) * STEP_S), typed)]
    later = Q(last_step__isnull=True) | Q(last_step__lt=fitting[0]) if fitting else Q(pk__in=[])
    # One statement, so that of two requests with one code a single one gets through.
    return bool(fitting) and bool(SecondFactor.objects.filter(later, pk=factor.pk).update(last_step=fitting[0]))
