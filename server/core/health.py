"""Two questions of a supervisor: does the process answer, and can it serve."""

import urllib.error
import urllib.request

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe


@require_safe
def live(_request: HttpRequest) -> JsonResponse:
    return JsonResponse({"status": "live"})


@require_safe
def ready(_request: HttpRequest) -> JsonResponse:
    """Ready means: the database answers and has every migration."""
    try:
        executor = MigrationExecutor(connection)
        missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return JsonResponse({"status": "no database"}, status=503)
    if missing:
        return JsonResponse({"status": "not migrated"}, status=503)
    return JsonResponse({"status": "ready"})


def answers(address: str) -> bool:
    """Whether the web process at this address says that it is ready."""
    request = urllib.request.Request(f"{address}health/ready", headers={"Host": name_of_a_visitor()})  # noqa: S310
    try:
        with urllib.request.urlopen(request, timeout=5) as answer:  # noqa: S310  (our own address)  # nosec B310
            return bool(answer.status == 200)
    except (urllib.error.URLError, TimeoutError, ConnectionError):
        return False


def name_of_a_visitor() -> str:
    """The host that somebody who comes by would ask for: others are refused."""
    name: str = settings.ALLOWED_HOSTS[0]
    return name.lstrip(".").replace("*", "localhost")
