from datetime import timedelta

import pytest

from server.accounts.models import Attempt, Token
from server.core import clock as clocks
from server.core import services

pytestmark = pytest.mark.django_db


def test_the_sweep_drops_what_has_expired(stranger, clock, monkeypatch):
    monkeypatch.setattr(services, "resend_due_jobs", lambda: 0)
    Attempt.objects.create(mark="0" * 32, hour=clocks.hour() - 1)
    clock.set(clocks.today() + timedelta(days=400))
    services.sweep()
    assert not Token.objects.exists()
    assert not Attempt.objects.filter(mark="0" * 32).exists()
