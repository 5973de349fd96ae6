"""Fill an empty database with the village and its first cut-off, and build its edition here, undisturbed.

Prints the moderator's sign-in name and the edition's SHA-256; the edition itself is undone.
"""

import json

import django
from django.conf import settings
from django.core.management import call_command
from django.db import transaction


def main() -> dict[str, str]:
    from server.worker import app
    from tests.server.editions.village import settle

    app.conf.broker_url = "memory://"
    call_command("migrate", verbosity=0)
    village = settle(lambda day: settings.CLOCK_FILE.write_text(day.isoformat()))
    village.bring_wears(1)
    village.cut_off(1)
    with transaction.atomic():
        edition = village.publish()
        transaction.set_rollback(True)
    return {"moderator": village.moderator.sign_in_name, "sha256": edition.sha256}


if __name__ == "__main__":
    django.setup()
    print(json.dumps(main()))  # noqa: T201
