from typing import Any

from django.core.management.base import BaseCommand

from server.accounts.services import end_every_sign_in


class Command(BaseCommand):
    help = "End every sign-in of everybody, as after a breach: each member has to sign in again."

    def handle(self, *_: Any, **__: Any) -> None:
        self.stdout.write(f"sign-ins ended: {end_every_sign_in()}")
