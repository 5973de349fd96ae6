"""Writes of accounts: joining, signing in and out, recovery, consent, wearers, links, and closing."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import cache
from hashlib import sha256
from typing import Any, get_args
from uuid import UUID

from django.conf import settings
from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from pooling.importing.limits import MAX_COLUMNS
from pooling.importing.types import ROLES, ColumnMapping, DateOrder
from pooling.vocabulary import GLUCOSE_UNITS
from server.accounts import joining, names, recovery, second_factor, signals, throttles
from server.accounts.agreements import end_record, record_consent
from server.accounts.agreements import refuse as _refuse
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import (
    Account,
    AgeClass,
    PlaceLabel,
    Relation,
    RememberedMapping,
    Scope,
    Token,
    Wearer,
    WebSession,
)
from server.accounts.selectors import consents_due, has_consented, layout_marks
from server.core import clock, journal, keys
from server.core.chunks import IDS_A_QUERY, pieces
from server.core.decoding import converted
from server.core.errors import Conflict, NotFound, Unauthorised
from server.core.idempotency import forget_answers
from server.core.locks import hold_rows, share_row

SWITCHES_AT_JOINING = (Scope.KEEP, Scope.POOL)


class Noted(StrEnum):
    """What the erasure journal says of accounts."""

    CLOSED_ACCOUNT = "closed-account"


TOKEN_DAYS = 90
MOST_MAPPINGS = 50
MOST_WEARERS = 20
KEPT_OF_A_MAPPING = ("kind", "glucose_unit", "date_order", "decimal")
WRONG_SIGN_IN = "The sign-in name or the password is wrong."


@dataclass(frozen=True, slots=True)
class Joined:
    """What a new member has to write down; the codes are shown once and never again."""

    account: Account
    recovery_codes: tuple[str, ...]

    @property
    def sign_in_name(self) -> str:
        return self.account.sign_in_name


def join(
    *,
    password: str | None,
    consent_version: int,
    scopes: Mapping[str, bool],
    invitation: str = "",
    address: str | None = None,
) -> Joined:
    """Open an account under a made-up sign-in name. Without a password nobody can sign in to it.

    `address` is where a visitor's request came from; it is counted, and not kept.
    """
    throttles.count_try("join", address)
    return _open_account(password, consent_version, scopes, invitation)


@transaction.atomic
def _open_account(password: str | None, consent_version: int, scopes: Mapping[str, bool], invitation: str) -> Joined:
    if consent_version != CONSENT_VERSION:
        _refuse("#/consent_version", f"Read version {CONSENT_VERSION} of the consent text and send its number.")
    _check_scopes(scopes)
    account = Account(sign_in_name=_free_name(), joined_on=clock.today())
    set_password(account, password)
    account.save()
    joining.let_in(account, invitation=invitation)
    Wearer.objects.create(account=account, relation=Relation.SELF, age_class=AgeClass.ADULT)
    for scope in SWITCHES_AT_JOINING:
        record_consent(account, scope=scope, given=scopes.get(scope, False), text_version=consent_version)
    return Joined(account, recovery.new_codes(account) if password else ())


def _free_name() -> str:
    name = names.new_sign_in_name()
    return name if not Account.objects.filter(sign_in_name=name).exists() else _free_name()


def _check_scopes(scopes: Mapping[str, bool]) -> None:
    for scope in sorted(set(scopes) - set(SWITCHES_AT_JOINING)):
        _refuse(f"#/scopes/{scope}", f"There is no such switch. There are {', '.join(SWITCHES_AT_JOINING)}.")
    if not scopes.get(Scope.KEEP, False):
        _refuse("#/scopes/keep", "Without keeping wears there is nothing the service can do for you.")


def set_password(account: Account, password: str | None) -> None:
    if password is None:
        account.set_unusable_password()
        return
    try:
        validate_password(password, account)
    except ValidationError as error:
        _refuse("#/password", " ".join(error.messages))
    account.set_password(password)


def sign_in(sign_in_name: str, password: str, *, one_time_code: str = "", address: str | None = None) -> str:
    """A new bearer token for whom `check_sign_in` lets in."""
    return _new_token(check_sign_in(sign_in_name, password, one_time_code=one_time_code, address=address))


def check_sign_in(sign_in_name: str, password: str, *, one_time_code: str = "", address: str | None = None) -> Account:
    """Whose name and password these are. A wrong name and a wrong password get the same answer in the same time.

    Only whoever knows the password is told that a code of the second factor is needed too.
    """
    name = sign_in_name.strip().lower()
    throttles.count_try("sign-in", address)
    throttles.count_try("sign-in name", name)
    account = Account.objects.filter(sign_in_name=name, is_active=True).first()
    nobodys = _nobody()  # for a name that there is, too: the first one that a process asks for takes time to make
    if not check_password(password, account.password if account else nobodys) or account is None:
        raise Unauthorised(WRONG_SIGN_IN)
    second_factor.check(account, one_time_code)
    throttles.forget_tries("sign-in name", name)
    return account


@cache
def _nobody() -> str:
    """Checked when there is no such name, so that both answers take as long."""
    return make_password("nobody has this password")


def _new_token(account: Account) -> str:
    token = names.new_token()
    expires_on = clock.today() + timedelta(days=TOKEN_DAYS)
    Token.objects.create(digest=sha256(token.encode()).hexdigest(), account=account, expires_on=expires_on)
    return token


def sign_out(token: str) -> None:
    Token.objects.filter(digest=sha256(token.encode()).hexdigest()).delete()


def recover(
    sign_in_name: str, *, recovery_code: str, password: str, one_time_code: str = "", address: str | None = None
) -> str:
    """A new bearer token for whom `check_recovery` lets in."""
    account = check_recovery(
        sign_in_name,
        recovery_code=recovery_code,
        password=password,
        one_time_code=one_time_code,
        address=address,
    )
    return _new_token(account)


def check_recovery(
    sign_in_name: str, *, recovery_code: str, password: str, one_time_code: str = "", address: str | None = None
) -> Account:
    """Set a new password with a recovery code, which is then used up; every other sign-in ends.

    Where a second factor is on it is asked for too; who has lost the app as well uses another recovery code for it.
    """
    name = sign_in_name.strip().lower()
    throttles.count_try("sign-in", address)
    throttles.count_try("recovery name", name)
    try:
        return _recovered(name, recovery_code, password, one_time_code)
    except second_factor.OneTimeCodeNeeded as refusal:
        # What was counted inside went with the transaction; guesses are few here as well.
        if one_time_code.strip():
            throttles.count_try("one-time code", str(refusal.account_id))
        raise


@transaction.atomic
def _recovered(name: str, recovery_code: str, password: str, one_time_code: str) -> Account:
    account = Account.objects.select_for_update().filter(sign_in_name=name, is_active=True).first()
    if account is None or not recovery.use_up(recovery_code, account=account):
        raise Unauthorised("The sign-in name or the recovery code is wrong.")
    second_factor.check(account, one_time_code)
    set_password(account, password)
    account.save(update_fields=["password"])
    end_all_sign_ins(account)
    return account


def end_all_sign_ins(account: Account) -> None:
    account.tokens.all().delete()
    WebSession.objects.filter(account_id=account.pk).delete()


def drop_expired_tokens(today: date) -> int:
    return Token.objects.filter(expires_on__lt=today).delete()[0]


def drop_expired_sessions() -> None:
    WebSession.get_session_store_class().clear_expired()


@transaction.atomic
def add_wearer(
    account: Account, *, relation: str, age_class: str, of_age_month: date | None = None, guardian: bool = False
) -> Wearer:
    """Keep wears for somebody else too; for a child, with a guardian's word and the month in which that word ends."""
    if relation not in Relation.values:
        _refuse("#/relation", f"Choose one of {', '.join(Relation.values)}.")
    if age_class not in AgeClass.values:
        _refuse("#/age_class", f"Choose one of {', '.join(AgeClass.values)}.")
    Account.objects.select_for_update().get(pk=account.pk)
    if account.wearers.count() >= MOST_WEARERS:
        raise Conflict(f"An account keeps wears for {MOST_WEARERS} people at most.")
    if age_class == AgeClass.CHILD:
        of_age_month = _checked_child(relation, of_age_month, guardian)
        if not has_consented(account, Scope.GUARDIAN) or Scope.GUARDIAN in consents_due(account):
            record_consent(account, scope=Scope.GUARDIAN, given=True, text_version=CONSENT_VERSION)
    elif of_age_month is not None or guardian:
        _refuse("#/of_age_month", "An adult decides alone. Leave of_age_month and guardian out.")
    return Wearer.objects.create(account=account, relation=relation, age_class=age_class, of_age_month=of_age_month)


def _checked_child(relation: str, of_age_month: date | None, guardian: bool) -> date:
    if settings.OPERATOR["minors"] == "adults-only":
        _refuse("#/age_class", "This service takes wears of adults only.")
    if relation == Relation.SELF:
        _refuse("#/relation", "An account is an adult's. A child's wears are kept by a parent or guardian.")
    if not guardian:
        _refuse("#/guardian", "Say true if you may decide for this child, as a parent or guardian; nobody else can.")
    today = clock.today()
    if of_age_month is None or not today < of_age_month.replace(day=1) < today.replace(year=today.year + 30, day=1):
        _refuse("#/of_age_month", "Send the month in which the child comes of age, as a date that is still to come.")
    return of_age_month.replace(day=1)


@transaction.atomic
def remember_mapping(account: Account, content: Any) -> RememberedMapping:
    """Keep what the columns of a layout are, in place of what was kept for it before.

    Of the header words only their mark is kept. The time zone is not kept at all: it says where somebody lives.
    """
    mapping = _checked_mapping(content)
    marks = layout_marks(account, mapping.header_hash_input)
    Account.objects.select_for_update().get(pk=account.pk)
    others = RememberedMapping.objects.filter(account=account).exclude(mark__in=marks)
    if others.count() >= MOST_MAPPINGS:
        raise Conflict(f"At most {MOST_MAPPINGS} mappings are kept. Forget one first.")
    kept = {name: getattr(mapping, name) for name in KEPT_OF_A_MAPPING} | {"roles": list(mapping.roles)}
    newest = {"mark": marks[-1], "key_version": keys.key_version(), "content": kept}
    return RememberedMapping.objects.update_or_create(account=account, mark__in=marks, defaults=newest)[0]


def _checked_mapping(content: Any) -> ColumnMapping:
    mapping = converted(content, ColumnMapping)
    for name, known in (
        ("roles", set(mapping.roles) <= set(ROLES) and 0 < len(mapping.roles) <= MAX_COLUMNS),
        ("glucose_unit", mapping.glucose_unit in (None, *GLUCOSE_UNITS)),
        ("date_order", mapping.date_order in (None, *get_args(DateOrder))),
        ("decimal", mapping.decimal in (".", ",")),
        ("header_hash_input", 0 < len(mapping.header_hash_input) <= MAX_COLUMNS),
    ):
        if not known:
            _refuse(f"#/{name}", "Send the mapping as the preview proposed it, with the roles that you corrected.")
    return mapping


def forget_mapping(mapping_id: UUID, *, account: Account) -> None:
    if not RememberedMapping.objects.filter(pk=mapping_id, account=account).delete()[0]:
        raise NotFound("There is no such mapping among yours.")


def forget_mappings(*, account: Account) -> None:
    RememberedMapping.objects.filter(account=account).delete()


def link_labels(links: Iterable[tuple[UUID, UUID, UUID]]) -> None:
    """Note whose the pool's new labels are: label, account, wearer."""
    for some in pieces(sorted(links), of=IDS_A_QUERY):
        PlaceLabel.objects.bulk_create(
            [PlaceLabel(label=label, account_id=account, wearer_id=wearer) for label, account, wearer in some]
        )


def hold_accounts(account_ids: Iterable[UUID]) -> None:
    """Keep these accounts open until the present transaction ends; who is closing one comes first."""
    hold_rows(Account.objects.only("pk"), account_ids)


def keep_switches(account: Account) -> None:
    """Until the present transaction ends no switch is turned and the account not closed; they are read after this."""
    share_row(account)


@transaction.atomic
def close_account(account: Account) -> None:
    """Erase an account, what it holds and every link to it, in one transaction."""
    locked = Account.objects.select_for_update().filter(pk=account.pk).first()
    if locked is None:
        raise NotFound("There is no such account.")
    signals.account_closing.send(sender=Account, account=locked)
    forget_answers(locked.pk)
    end_all_sign_ins(locked)
    end_record(locked)
    journal.note(Noted.CLOSED_ACCOUNT, locked.pk.bytes)
    locked.delete()


# After a restore


def close_noted_accounts(marks: frozenset[bytes]) -> int:
    """Close again the accounts that had been closed."""
    noted = [account for account in Account.objects.all() if _is_noted(Noted.CLOSED_ACCOUNT, account.pk.bytes, marks)]
    for account in noted:
        close_account(account)
    return len(noted)


def _is_noted(kind: str, subject: bytes, marks: frozenset[bytes]) -> bool:
    return journal.mark_of(kind, subject) in marks


def end_every_sign_in(_marks: frozenset[bytes] = frozenset()) -> int:
    """Sign everybody out: a restored copy knows tokens that had been ended since."""
    n_tokens, _ = Token.objects.all().delete()
    n_sessions, _ = WebSession.objects.all().delete()
    return n_tokens + n_sessions
