"""Writes of somebody who is signed in to what lets them in: password, recovery codes, other sign-ins."""

from django.contrib.auth.hashers import check_password
from django.db import transaction

from server.accounts import recovery, throttles
from server.accounts.agreements import refuse
from server.accounts.models import Account, WebSession
from server.accounts.services import end_all_sign_ins, set_password


def check_present_password(account: Account, present_password: str) -> None:
    """Whoever finds a browser signed in does not know the password."""
    throttles.count_try("sign-in name", account.sign_in_name)
    if not check_password(present_password, account.password):
        refuse("#/present_password", "This is not your present password.")
    throttles.forget_tries("sign-in name", account.sign_in_name)


def change_password(account: Account, *, present_password: str, password: str) -> None:
    """Set another password; every sign-in ends, that of the browser in which it is done among them."""
    check_present_password(account, present_password)
    with transaction.atomic():
        set_password(account, password)
        account.save(update_fields=["password"])
        end_all_sign_ins(account)


def renew_recovery_codes(account: Account, *, present_password: str) -> tuple[str, ...]:
    """Six fresh codes; the ones before serve no longer."""
    check_present_password(account, present_password)
    with transaction.atomic():
        return recovery.new_codes(account)


@transaction.atomic
def end_other_sign_ins(account: Account, *, session_key: str | None) -> int:
    """Sign out everywhere but in this browser: tokens of the API and of the command line, and other browsers."""
    n_tokens, _ = account.tokens.all().delete()
    others = WebSession.objects.filter(account_id=account.pk).exclude(session_key=session_key)
    return n_tokens + others.delete()[0]
