"""On a public server people join by invitation, and nobody acts as moderator on a password alone."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from server.accounts import joining, second_factor
from server.accounts.consents import CONSENT_VERSION
from server.accounts.models import Account, JoiningCode
from server.accounts.services import join
from server.core.errors import Invalid
from server.editions import permissions as editions
from server.groups.invitations import make_invitation
from server.groups.models import Invitation, Membership, Role
from server.groups.permissions import Permission
from server.groups.selectors import SecondFactorNeeded, require

pytestmark = pytest.mark.django_db


def come(**told):
    return join(password=None, consent_version=CONSENT_VERSION, scopes={"keep": True}, **told).account


@pytest.fixture
def by_invitation(settings):
    settings.JOINING = "invitation"


def operators_codes(n):
    out = StringIO()
    call_command("invite", uses=n, stdout=out, stderr=StringIO())
    return out.getvalue().split()


def test_an_open_service_asks_for_no_invitation():
    assert come().pk


@pytest.mark.parametrize("code", ["", "   ", "made-up"])
def test_without_an_invitation_nobody_gets_in_and_nothing_is_kept(by_invitation, code):
    with pytest.raises(Invalid) as refusal:
        come(invitation=code)
    assert refusal.value.faults[0]["pointer"] == "#/invitation"
    assert not Account.objects.exists()


def test_an_invitation_of_the_operator_lets_one_in(by_invitation):
    first, second = operators_codes(2)
    assert JoiningCode.objects.filter(code_sha256__contains=first).count() == 0
    come(invitation=f" {first} ")
    with pytest.raises(Invalid):
        come(invitation=first)
    come(invitation=second)
    assert Account.objects.count() == 2
    assert not JoiningCode.objects.exists()


def test_an_invitation_ends(by_invitation, monkeypatch):
    (code,) = operators_codes(1)
    until = JoiningCode.objects.get().expires_on
    monkeypatch.setattr(joining.clock, "today", lambda: until)
    with pytest.raises(Invalid):
        come(invitation=code)
    assert joining.drop_expired() == 1


@pytest.mark.parametrize("n", [0, joining.MOST_AT_ONCE + 1])
def test_the_command_makes_a_bounded_number(n):
    with pytest.raises(CommandError, match="invitations can be made at once"):
        call_command("invite", uses=n)


def test_a_moderators_invitation_lets_in_here_and_into_the_group(settings, group, moderator):
    settings.JOINING = "invitation"
    made = make_invitation(group, by=moderator.account, uses=1)
    account = come(invitation=made.code)
    assert Membership.objects.get(account=account).role == Role.MEMBER
    assert Membership.objects.get(account=account).group == group
    assert not Invitation.objects.exists()
    with pytest.raises(Invalid):
        come(invitation=made.code)


@pytest.mark.parametrize(
    "ask",
    [
        lambda group, account: require(Permission.WEARS_CURATE, group=group, account=account),
        lambda group, account: editions.require(editions.Permission.EDITION_PUBLISH, group=group, account=account),
    ],
    ids=["groups", "editions"],
)
def test_a_moderator_of_a_public_server_needs_a_second_factor(settings, group, moderator, ask):
    settings.MODERATORS_NEED_SECOND_FACTOR = True
    with pytest.raises(SecondFactorNeeded, match="Authenticator app"):
        ask(group, moderator.account)
    setup = second_factor.begin(moderator.account)
    with pytest.raises(SecondFactorNeeded):
        ask(group, moderator.account)
    second_factor.confirm(moderator.account, one_time_code=second_factor.pyotp.TOTP(setup.secret).now())
    ask(group, moderator.account)
