from contextlib import suppress

from django.apps import AppConfig
from django.db.models.signals import post_migrate
from django.utils.module_loading import autodiscover_modules


class CoreConfig(AppConfig):
    name = "server.core"

    def ready(self) -> None:
        from server.core import (
            checks,  # noqa: F401  (registers the checks)
            grants,
            samples,
            texts,
        )

        # Where the code may not be written to, they were compiled when it was set up; else a check complains.
        with suppress(OSError):
            texts.compile_stale()
        # Django has finished setting up only after every app is ready; tasks are loaded for worker and web alike.
        autodiscover_modules("tasks")
        post_migrate.connect(grants.after_migrate, sender=self)
        post_migrate.connect(samples.keep_none, sender=self)
