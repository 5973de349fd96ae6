"""Joining by invitation: against somebody who fills a public server with invented members.

An invitation is the operator's and lets one account in, or a moderator's to a group, and then it counts as one of that
moderator's (server/groups/invitations.py) and lets the account into the group as well.
"""

import hashlib
import secrets
from collections.abc import Callable
from datetime import date, timedelta
from typing import Final

from django.conf import settings

from server.accounts.agreements import refuse
from server.accounts.models import Account, JoiningCode
from server.core import clock

DAYS_OPEN: Final = 60
MOST_AT_ONCE: Final = 100
_openers: list[Callable[[str, Account], bool]] = []


def register(opener: Callable[[str, Account], bool]) -> None:
    """Let an app above say whether a code of its own lets this account in; it uses the code up."""
    if opener not in _openers:
        _openers.append(opener)


def is_needed() -> bool:
    return str(settings.JOINING) == "invitation"


def make_codes(n_codes: int) -> tuple[list[str], date]:
    """Fresh codes, each for one account, and the day on which they end."""
    if not 1 <= n_codes <= MOST_AT_ONCE:
        refuse("#/uses", f"From 1 to {MOST_AT_ONCE} invitations can be made at once.")
    codes, until = [secrets.token_urlsafe(18) for _ in range(n_codes)], clock.today() + timedelta(days=DAYS_OPEN)
    JoiningCode.objects.bulk_create(JoiningCode(code_sha256=_digest(code), expires_on=until) for code in codes)
    return codes, until


def let_in(account: Account, *, invitation: str) -> None:
    """Take the invitation of an account that is being opened, in its transaction; refuse one that opens nothing."""
    code = invitation.strip()
    if not code and not is_needed():
        return
    if not code:
        refuse("#/invitation", "Joining needs an invitation here. Ask a moderator of a group, or who runs this.")
    own = JoiningCode.objects.filter(code_sha256=_digest(code), expires_on__gt=clock.today())
    # One statement, so that of two who join with one code a single one gets in.
    if not own.delete()[0] and not any(opens(code, account) for opens in _openers):
        refuse("#/invitation", "This invitation opens nothing: it was used, has ended, or is mistyped.")


def drop_expired() -> int:
    return JoiningCode.objects.filter(expires_on__lte=clock.today()).delete()[0]


def _digest(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()
