from io import StringIO

import pytest
from django.core.management import CommandError, call_command


@pytest.mark.django_db
def test_the_migrations_describe_the_models():
    out = StringIO()
    try:
        call_command("makemigrations", check=True, dry_run=True, stdout=out, stderr=out)
    except (SystemExit, CommandError):
        pytest.fail(out.getvalue())


@pytest.mark.django_db
def test_django_finds_nothing_wrong():
    call_command("check", fail_level="WARNING")
