import pytest

from server.accounts.models import WebSession
from server.accounts.sessions import SessionStore

pytestmark = pytest.mark.django_db


def test_a_session_names_its_account_once_somebody_is_signed_in(client, stranger):
    anonymous = SessionStore()
    anonymous["unit"] = "mg/dL"
    anonymous.save()
    assert WebSession.objects.get(pk=anonymous.session_key).account_id is None
    client.force_login(stranger.account)
    assert WebSession.objects.get(pk=client.session.session_key).account_id == stranger.account.pk
