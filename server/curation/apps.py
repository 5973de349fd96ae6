from django.apps import AppConfig


class CurationConfig(AppConfig):
    name = "server.curation"

    def ready(self) -> None:
        from server.curation import replies  # noqa: F401  (connects what owners are told at an edition date)
