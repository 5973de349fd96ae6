"""The whole of a small server's SQLite file goes over to PostgreSQL: same ids, same editions, and work goes on."""

import json

import pytest

from tests.server.editions.village import SLUG, STORY
from tests.server.running import Service

TOLD = """
import django, hashlib, json
django.setup()
from django.apps import apps
from server.editions.models import Edition
ids = {model._meta.label: sorted(map(str, model._base_manager.values_list("pk", flat=True)))
       for config in apps.get_app_configs() if config.name.startswith("server.") for model in config.get_models()}
bytes_of = {str(one.pk): [one.sha256, hashlib.sha256(bytes(one.document)).hexdigest()] for one in Edition.objects.all()}
print(json.dumps([ids, bytes_of]))
"""
NUMBERED = """
import django
django.setup()
from server.core import journal
journal.leave_no_trace()
"""
PUBLISH = f"""
import django
django.setup()
from server.core.models import Job
from server.core.services import run_job
from server.editions.services import publish_draft, start_draft
from server.groups.models import Group
from server.accounts.models import Account
from server.worker import app
app.conf.broker_url = "memory://"
group = Group.objects.get(slug={SLUG!r})
moderator = Account.objects.get(sign_in_name=__import__("sys").argv[1])
draft = start_draft(group, by=moderator)
while (job := Job.objects.filter(state="due").first()) is not None:
    run_job(job.pk)
publish_draft(group, draft.pk, by=moderator)
"""


@pytest.fixture
def small_server(tmp_path):
    """On SQLite, with a village whose first cut-off has passed."""
    day = tmp_path / "day"
    day.write_text(STORY.founded_on.isoformat())
    server = Service(
        tmp_path,
        {},
        settings="server.settings",
        COMMONWEAR_DEMO="yes",
        COMMONWEAR_CLOCK_FILE=str(day),
        COMMONWEAR_FIRST_CUT_OFF=STORY.first_cut_off.isoformat(),
    )
    del server.environment["DATABASE_URL"]
    return server


def test_ids_and_hashes_are_the_same_on_the_other_side(small_server, database):
    seed = json.loads(small_server.python("-m", "tests.server.editions.midfit.seed"))
    small_server.python("-c", PUBLISH, seed["moderator"])
    ids, editions = before = json.loads(small_server.python("-c", TOLD))
    assert len(ids["wears.Wear"]) > 20
    assert list(editions.values()) == [[seed["sha256"]] * 2]

    told = small_server.python("-m", "server", "move", COMMONWEAR_MOVE_TO=database["DATABASE_URL"])
    assert f"{small_server.place / 'commonwear.sqlite3'}-wal" in told  # what stays behind is to be deleted

    small_server.environment |= database
    assert json.loads(small_server.python("-c", TOLD)) == before
    # Running numbers go on behind those that came along.
    small_server.python("-c", NUMBERED)
    small_server.python("-m", "server", "check")
