"""The Celery application: one task, which runs one job row (server/core/tasks.py)."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
app = Celery("commonwear")
app.config_from_object("django.conf:settings", namespace="CELERY")
