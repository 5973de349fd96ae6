from server.settings import *  # noqa: F403
from server.settings import INSTALLED_APPS as _OURS

INSTALLED_APPS = [*_OURS, "tests.server.probe"]

ROOT_URLCONF = "tests.server.probe.urls"
