from django.apps import AppConfig


class WearsConfig(AppConfig):
    name = "server.wears"
    label = "wears"
    default_auto_field = "django.db.models.BigAutoField"
