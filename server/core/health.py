"""Two questions of a supervisor: does the process answer, and can it serve."""

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse


def live(_request: HttpRequest) -> JsonResponse:
    return JsonResponse({"status": "live"})


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
