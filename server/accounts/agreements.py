"""Writes of consent: each switch turned is an entry chained to the one before, and what it says is done at once."""

from datetime import date
from typing import Final, NoReturn

from django.db import transaction
from django.dispatch import Signal

from server.accounts import signals
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import Account, Consent, Scope
from server.accounts.selectors import CHAIN_START, chained, consents_of, has_consented
from server.core import clock, journal
from server.core.errors import Invalid

SWITCHED_OFF: Final = "switched-off"  # what the erasure journal says of switches
MONTHS_KEPT_AFTER: Final = 25  # longer than any sum that was open when an account was closed
ENDED: Final[dict[str, Signal]] = {
    Scope.KEEP: signals.keeping_ended,
    Scope.POOL: signals.pooling_ended,
    Scope.GUARDIAN: signals.guarding_ended,
}


def refuse(pointer: str, message: str) -> NoReturn:
    raise Invalid("Nothing was done.", faults=[{"pointer": pointer, "message": message}])


@transaction.atomic
def record_consent(account: Account, *, scope: str, given: bool, text_version: int) -> Consent:
    """Turn a switch on under the present text, or off under any that there was, and do what its end says."""
    if scope not in Scope.values:
        refuse("#/scope", f"There is no such switch. There are {', '.join(Scope.values)}.")
    if text_version != CONSENT_VERSION and (given or not 0 < text_version < CONSENT_VERSION):
        refuse("#/text_version", f"Read version {CONSENT_VERSION} of the consent text and send its number.")
    Account.objects.select_for_update().get(pk=account.pk)
    before = has_consented(account, scope)
    consent = _append(account, scope=scope, given=given, text_version=text_version)
    if not given:
        ENDED[scope].send(sender=Consent, account=account)
    _journal_switch(account, scope, before=before, now=given)
    return consent


def _append(account: Account, *, scope: str, given: bool, text_version: int) -> Consent:
    record = consents_of(account)
    consent = Consent(
        pseudonym=account.pseudonym,
        number=len(record) + 1,
        scope=scope,
        given=given,
        text_version=text_version,
        on=clock.today(),
    )
    consent.chain_hash = chained(record[-1].chain_hash if record else CHAIN_START, consent)
    consent.save()
    return consent


def _journal_switch(account: Account, scope: str, *, before: bool, now: bool) -> None:
    """A copy of the database that is put back must turn no switch on again."""
    switch = account.pk.bytes + scope.encode()
    if before and not now:
        journal.note(SWITCHED_OFF, switch)
    elif now and not before:
        journal.undo(SWITCHED_OFF, switch)


def end_record(account: Account) -> None:
    """Note, as the account closes, that every switch that was on is off; nobody can tell whose record it is then."""
    for scope in Scope.values:
        if has_consented(account, scope):
            _append(account, scope=scope, given=False, text_version=CONSENT_VERSION)


def drop_ended_records(today: date) -> int:
    """Forget records whose account was closed so long ago that no sum can count a wear of theirs."""
    last_months = clock.month_after(today, -MONTHS_KEPT_AFTER)
    ended = Consent.objects.exclude(pseudonym__in=Account.objects.values("pseudonym"))
    lately = ended.filter(on__gte=last_months).values("pseudonym")
    return ended.exclude(pseudonym__in=lately).forget()


@transaction.atomic
def switch_off_noted(marks: frozenset[bytes]) -> int:
    """After a restore: turn off again the switches that had been turned off."""
    noted = [
        (account, scope)
        for account in Account.objects.all()
        for scope in Scope.values
        if journal.mark_of(SWITCHED_OFF, account.pk.bytes + scope.encode()) in marks and has_consented(account, scope)
    ]
    for account, scope in noted:
        record_consent(account, scope=scope, given=False, text_version=CONSENT_VERSION)
    return len(noted)
