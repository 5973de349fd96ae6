"""What is done to the service from inside, in a process of its own; each word prints one line of JSON.

`catalogue` lists sensor models, as an operator does; `people` lets the invented people join, `tokens` signs them in;
`look` and `approve` let what waits be released and approved; `state` and `workers` say what there is; `calm` passes one
cut-off and builds its edition here, undisturbed.
"""

import json
import sys
from typing import Any

import django
from django.conf import settings

GROUP = "harbour"
PASSWORD = "four ordinary words here"


def catalogue() -> int:
    from server.core.models import SensorModel
    from server.demo.community import load_catalogue

    load_catalogue()
    return SensorModel.objects.count()


def people(names: list[str]) -> dict[str, Any]:
    from django.db import transaction

    from server.accounts.consents import CONSENT_VERSION
    from server.accounts.services import join
    from server.groups.services import found_group, join_group

    def somebody() -> Any:
        return join(password=PASSWORD, consent_version=CONSENT_VERSION, scopes={"keep": True, "pool": True})

    moderator = somebody()
    group = found_group(
        founder=moderator.account,
        slug=GROUP,
        name="Harbour",
        description="An invented group.",
        public=True,
        feeds_everyone=False,
        wearers="mixed",
    )
    found = {}
    with transaction.atomic():
        for name in names:
            joined = somebody()
            join_group(group, account=joined.account)
            found[name] = joined.sign_in_name
    return {
        "moderator": moderator.sign_in_name,
        "members": found,
    }


def tokens(names: list[str]) -> list[str]:
    from server.accounts.services import sign_in

    return [sign_in(name, PASSWORD) for name in names]


def look() -> int:
    """What workers do before a batch is released."""
    from server.wears.copies import look_for_copies

    return look_for_copies()


def approve() -> int:
    """Let the moderator approve everything; repeated after a fault it goes on with what is left."""
    from server.core import clock
    from server.curation.release import release_batches
    from server.curation.selectors import queue_for_moderator
    from server.curation.services import approve_wear
    from server.groups.models import Group

    release_batches(clock.today())
    group = Group.objects.get(slug=GROUP)
    moderator = _moderator(group)
    waiting = queue_for_moderator(group, account=moderator)
    for wear in waiting:
        approve_wear(group, wear.id, by=moderator)
    return len(waiting)


def _moderator(group: Any) -> Any:
    from server.accounts.models import Account
    from server.groups.models import Membership

    return Account.objects.get(pk=Membership.objects.get(group=group, role="moderator").account_id)


def state() -> dict[str, Any]:
    from django.db.models import Count, Sum

    from server.core.models import Job
    from server.editions.models import Edition, Place, RecordKind
    from server.wears.models import Wear

    places = Place.objects.filter(record__kind=RecordKind.BLOCK, record__family="accuracy")
    return {
        "wears": sorted(str(pk) for pk in Wear.objects.values_list("pk", flat=True)),
        "by_state": dict(Wear.objects.values_list("state").annotate(Count("pk"))),
        "n_counted_for_accuracy": places.aggregate(n=Sum("n_wears"))["n"] or 0,
        "jobs": dict(Job.objects.values_list("state").annotate(Count("pk"))),
        "editions": {str(edition.slot_id): edition.sha256 for edition in Edition.objects.all()},
    }


def workers() -> dict[str, int]:
    """How many jobs each worker that answers has been given."""
    from server.core.services import RUN_JOB
    from server.worker import app

    told = app.control.inspect(timeout=3).stats() or {}
    return {name: stats["total"].get(RUN_JOB, 0) for name, stats in told.items()}


def calm(slot: int) -> str:
    """The edition of a slot, from the wears that wait for it: one process, one step after the other."""
    from server.core.models import Job
    from server.core.services import run_job
    from server.editions.admission import run_cut_off
    from server.editions.calendar import cut_off_of
    from server.editions.services import publish_draft, start_draft
    from server.groups.models import Group
    from server.worker import app

    app.conf.broker_url = "memory://"
    settings.CLOCK_FILE.write_text(cut_off_of(slot, first=settings.FIRST_CUT_OFF).isoformat(), encoding="ascii")
    Job.objects.all().delete()
    assert run_cut_off(slot)
    group = Group.objects.get(slug=GROUP)
    draft = start_draft(group, by=_moderator(group))
    while (job := Job.objects.filter(state=Job.State.DUE).first()) is not None:
        run_job(job.pk)
    edition = publish_draft(group, draft.pk, by=_moderator(group))
    assert edition is not None
    return edition.sha256


def main(word: str, *given: str) -> Any:
    match word:
        case "catalogue":
            return catalogue()
        case "people":
            return people(json.loads(sys.stdin.readline()))
        case "tokens":
            return tokens(json.loads(sys.stdin.readline()))
        case "look":
            return look()
        case "approve":
            return approve()
        case "look and approve":
            return look() + approve()
        case "state":
            return state()
        case "workers":
            return workers()
        case "calm":
            return calm(int(given[0]))
    raise SystemExit(f"no such word: {word}")


if __name__ == "__main__":
    django.setup()
    print(json.dumps(main(*sys.argv[1:])))  # noqa: T201
