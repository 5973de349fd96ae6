"""A drill: copy, erase, lose the database, restore; on the database of the environment, by the commands themselves."""

import os
import subprocess
import sys

import pytest

from tests.server.running import ROOT, scratch_database

FILL = """
import django; django.setup()
from django.core.management import call_command as run
run("migrate", verbosity=0)
from uuid import uuid4
from server.accounts.consents import CONSENT_VERSION
from server.accounts.services import close_account, join
scopes = {"keep": True, "pool": True}
make = lambda: join(password="four ordinary words here", consent_version=CONSENT_VERSION, scopes=scopes)
stays, goes = make(), make()
print(stays.account.pk)
run("backup", "COPY")
close_account(goes.account)
"""
COME_BACK = """
import django; django.setup()
from django.core.management import CommandError, call_command as run
run("restore", "COPY")
from server.accounts.models import Account
from server.core import journal
print(*Account.objects.values_list("pk", flat=True), journal.is_ahead())
try:
    run("restore", "COPY")
except CommandError as error:
    print(error)
"""


@pytest.fixture
def python(tmp_path):
    def run(script, database, folder):
        own = {
            "COMMONWEAR_DATA_DIR": str(tmp_path / folder),
            "COMMONWEAR_KEYS_FILE": str(tmp_path / "safe" / "keys.json"),
            "COMMONWEAR_BACKUP_KEY_FILE": str(tmp_path / "safe" / "backup-key"),
            "COMMONWEAR_ERASURE_JOURNAL": str(tmp_path / "safe" / "journal"),
            "DJANGO_SETTINGS_MODULE": "server.settings",
        }
        given = {name: value for name, value in os.environ.items() if not name.startswith("COMMONWEAR_")}
        script = script.replace("COPY", str(tmp_path / "copy.backup"))
        done = subprocess.run(
            [sys.executable, "-c", script],
            cwd=ROOT,
            env=given | own | database,
            check=True,
            capture_output=True,
            text=True,
        )
        return done.stdout

    return run


def test_what_was_erased_after_the_copy_stays_erased_when_it_is_restored(python, tmp_path):
    address = os.environ.get("DATABASE_URL")
    with scratch_database(address) as first, scratch_database(address) as second:
        stays, *sheet = python(FILL, first, "before").splitlines()
        told = python(COME_BACK, second, "after")
    assert "closed-account: 1" in told
    assert f"{stays} False" in told, told
    assert "The database is not empty" in told
    assert "RECOVERY SHEET" in "\n".join(sheet)
    copy = (tmp_path / "copy.backup").read_bytes()
    for secret in ("keys.json", "journal"):
        assert (tmp_path / "safe" / secret).read_bytes()[:40] not in copy
    assert stays.encode() not in copy
