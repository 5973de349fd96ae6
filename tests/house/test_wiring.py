"""A fresh process knows a handler for every kind of job, so that no worker meets one that it cannot do."""

from enum import StrEnum
from importlib import import_module
from importlib.util import find_spec

from django.apps import apps

from server.core import jobs


def test_every_kind_of_job_has_its_handler():
    kinds = {
        str(kind)
        for app in apps.get_app_configs()
        if app.name.startswith("server.") and app.name != "server.core" and find_spec(f"{app.name}.jobs")
        for kind in getattr(import_module(f"{app.name}.jobs"), "JobKind", StrEnum("Empty", []))
    }
    assert kinds <= set(jobs.handlers())


def test_the_sweep_does_what_core_and_accounts_need():
    assert {"due jobs sent again", "expired sign-ins dropped"} <= set(jobs.sweepers())
