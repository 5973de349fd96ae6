from django.apps import AppConfig


class CurationConfig(AppConfig):
    name = "server.curation"
    label = "curation"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from server.curation import replies  # noqa: F401  (connects what owners are told at an edition date)
