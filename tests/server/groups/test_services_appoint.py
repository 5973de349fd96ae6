"""Nobody can join `everyone`, so without the operator's word it would have no moderator and no edition."""

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from server.groups.selectors import everyone, role_of

pytestmark = pytest.mark.django_db


def test_the_operator_gives_everyone_a_moderator(stranger):
    assert role_of(stranger.account, everyone()) is None
    call_command("appoint", "everyone", stranger.sign_in_name)
    assert role_of(stranger.account, everyone()) == "moderator"


@pytest.mark.parametrize(("group", "name"), [("nowhere", None), ("everyone", "nobody-here-12345")])
def test_a_name_that_leads_nowhere_is_refused(stranger, group, name):
    with pytest.raises(CommandError):
        call_command("appoint", group, name or stranger.sign_in_name)
