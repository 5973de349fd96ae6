from django.apps import AppConfig


class CurationConfig(AppConfig):
    name = "server.curation"
    label = "curation"
    default_auto_field = "django.db.models.BigAutoField"
