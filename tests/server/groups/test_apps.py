import pytest
from django.core.management import call_command

from server.groups.models import Group, Protocol


@pytest.mark.django_db(transaction=True)
def test_everyone_is_there_in_every_database_and_only_once():
    assert Group.objects.get().slug == "everyone"
    call_command("flush", interactive=False, verbosity=0)
    everyone = Group.objects.get()
    assert everyone.slug == "everyone"
    assert all((everyone.public, everyone.feeds_everyone, everyone.reserved))
    call_command("migrate", verbosity=0)
    assert Group.objects.get() == everyone
    assert Protocol.objects.get(group=everyone).k >= 5
