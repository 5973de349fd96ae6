from django.apps import AppConfig


class GroupsConfig(AppConfig):
    name = "server.groups"
    label = "groups"
    default_auto_field = "django.db.models.BigAutoField"
