"""Fill an empty database with the village and its first cut-off, and build its edition here, undisturbed.

Prints the moderator's sign-in name and the edition's SHA-256; the draft it was read from is discarded.
"""

import hashlib
import json

import django
from django.conf import settings
from django.core.management import call_command


def main() -> dict[str, str]:
    from server.core.models import Job
    from server.core.services import run_job
    from server.editions.services import discard_draft, start_draft
    from server.worker import app
    from tests.server.editions.village import settle

    app.conf.broker_url = "memory://"
    call_command("migrate", verbosity=0)
    village = settle(lambda day: settings.CLOCK_FILE.write_text(day.isoformat()))
    village.bring_wears(1)
    village.cut_off(1)
    draft = start_draft(village.group, by=village.moderator)
    while (job := Job.objects.filter(state=Job.State.DUE).first()) is not None:
        run_job(job.pk)
    draft.refresh_from_db()
    digest = hashlib.sha256(bytes(draft.document)).hexdigest()
    discard_draft(village.group, draft.pk, by=village.moderator)
    return {"moderator": village.moderator.sign_in_name, "sha256": digest}


if __name__ == "__main__":
    django.setup()
    print(json.dumps(main()))  # noqa: T201
