"""The queue as it is set up, and one id through it."""

from threading import Thread
from uuid import uuid4

import pytest

from server.core import services
from server.worker import app


@pytest.mark.django_db
def test_the_worker_knows_the_one_task():
    app.loader.import_default_modules()
    assert services.RUN_JOB in app.tasks


def test_a_job_cut_off_with_its_worker_is_delivered_again():
    assert app.conf.task_acks_late
    assert app.conf.task_reject_on_worker_lost
    assert app.conf.broker_transport_options["visibility_timeout"] > app.conf.task_time_limit


@pytest.mark.parametrize("in_thread", [False, True])
def test_an_id_put_on_the_queue_waits_there(in_thread):
    before = services._n_waiting()
    send = Thread(target=services._send, args=[uuid4()])
    if in_thread:
        send.start()
        send.join()
    else:
        send.run()
    assert services._n_waiting() == before + 1
