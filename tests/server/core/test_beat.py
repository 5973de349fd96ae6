import pytest

from server.core import beat


def test_without_a_broker_nothing_is_known_and_nobody_fails(settings, tmp_path):
    settings.CELERY_BROKER_URL = f"redis+socket://{tmp_path}/nobody.sock"
    beat.leave_sign(every_s=5)
    with pytest.raises(beat.Unknown):
        beat.is_heard()
