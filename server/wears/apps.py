from django.apps import AppConfig


class WearsConfig(AppConfig):
    name = "server.wears"

    def ready(self) -> None:
        from server.wears import departures  # noqa: F401  (connects what happens when a member leaves or closes the account)
