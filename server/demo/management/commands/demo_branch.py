"""Work on a copy of the demo's database: take a wear back, or pass a cut-off and build everyone's edition."""

import hashlib
from argparse import ArgumentParser
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from server.accounts.selectors import holding_of
from server.core.models import Job
from server.core.services import run_job
from server.editions import admission
from server.editions.models import Draft
from server.editions.services import start_draft
from server.groups.models import Membership
from server.groups.selectors import everyone
from server.wears.services import erase_wear


class Command(BaseCommand):
    help = "Used by `demo --check` on a copy of its own database."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        words = parser.add_subparsers(dest="word", required=True)
        words.add_parser("erase").add_argument("wear", type=UUID)
        words.add_parser("edition").add_argument("slot", type=int)

    def handle(self, *, word: str, wear: UUID | None = None, slot: int = 0, **_: Any) -> None:
        if not settings.DEMO:
            raise CommandError("This works on the demo's own data only.")
        if word == "erase" and wear is not None:
            holding = holding_of(wear)
            if holding is None:
                raise CommandError("There is no such wear.")
            erase_wear(wear, account=holding.account)
        else:
            self.stdout.write(self._edition(slot))

    def _edition(self, slot: int) -> str:
        admission.run_cut_off(slot)
        moderator = Membership.objects.get(group=everyone(), role="moderator").account
        draft = start_draft(everyone(), by=moderator)
        while (job := Job.objects.filter(state=Job.State.DUE).first()) is not None:
            run_job(job.pk)
        return hashlib.sha256(Draft.objects.get(pk=draft.pk).content).hexdigest()
