from typing import Any

from django.core.management.base import BaseCommand, CommandError

from server.core.errors import ServiceError
from server.editions import services


class Command(BaseCommand):
    help = "Publish the draft of everyone's edition for the latest cut-off, as the operator."

    def handle(self, *_: Any, **__: Any) -> None:
        try:
            edition = services.publish_as_operator()
        except ServiceError as error:
            raise CommandError(error.detail) from None
        self.stdout.write(f"published: edition {edition.number} of everyone, {edition.sha256}")
