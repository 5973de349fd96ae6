from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class GroupsConfig(AppConfig):
    name = "server.groups"

    def ready(self) -> None:
        post_migrate.connect(_see_to_everyone, sender=self)


def _see_to_everyone(**_: Any) -> None:
    """The reserved group is there in every database, however it came to be empty."""
    from server.groups.services import see_to_everyone

    see_to_everyone()
