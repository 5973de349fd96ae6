from django.apps import AppConfig


class DemoConfig(AppConfig):
    """The invented scenario; it stands on top of everything and nothing knows of it."""

    name = "server.demo"
    label = "demo"
