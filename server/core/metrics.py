"""Figures about the service for a monitoring program, in Prometheus's text format, with nobody in them.

Requests are counted by the pattern of their address, never by the address, which may hold a slug or an id; labels have
few values, all of them from the code. What the database knows is asked of it at each look, of any process. Requests are
counted by each process for itself, in memory: a `web` command with several processes answers for one of them at a time
and names it in `commonwear_process_info`; one process a command, several commands, is how to count all.
"""

import hmac
import ipaddress
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.models import Count, Min
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_LATEST
from prometheus_client.metrics_core import GaugeMetricFamily, Metric

from server.core import beat, clock, jobs
from server.core.models import Erasure, Job

METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
BUCKETS_S = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 60.0)
FORWARDED = (
    "HTTP_FORWARDED",
    "HTTP_VIA",
    "HTTP_X_FORWARDED_FOR",
    "HTTP_X_FORWARDED_HOST",
    "HTTP_X_FORWARDED_PROTO",
    "HTTP_X_REAL_IP",
)
Measure = Callable[[], Iterator[Metric]]
_own = CollectorRegistry()
_requests = Counter("commonwear_requests", "Requests answered", ("method", "route", "status"), registry=_own)
_latency = Histogram(
    "commonwear_request_seconds", "Time to answer a request", ("route",), buckets=BUCKETS_S, registry=_own
)
_measures: dict[str, Measure] = {}


def register(name: str, measure: Measure) -> None:
    """Have an app say more figures; registered in its `tasks.py`."""
    if _measures.setdefault(name, measure) is not measure:
        raise RuntimeError(f"two measures named {name}")


@contextmanager
def counted(request: HttpRequest) -> Iterator[Callable[[HttpResponse], None]]:
    """Count a request and its time once its answer is known."""
    began = time.perf_counter()

    def count(response: HttpResponse) -> None:
        route = route_of(request)
        method = request.method if request.method in METHODS else "other"
        _requests.labels(method, route, f"{response.status_code // 100}xx").inc()
        _latency.labels(route).observe(time.perf_counter() - began)

    yield count


def route_of(request: HttpRequest) -> str:
    """The pattern of the address; one word for all addresses that lead nowhere."""
    match = request.resolver_match
    return f"/{match.route}" if match is not None else "none"


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    """Everything, to whoever may see it; for others there is no such address."""
    if not may_see(request):
        raise Http404
    asked = CollectorRegistry()
    asked.register(_Asked())
    return HttpResponse(generate_latest(_own) + generate_latest(asked), content_type=CONTENT_TYPE_LATEST)


def may_see(request: HttpRequest) -> bool:
    """With a token set, whoever brings it; without, a program on this machine that speaks to us without a proxy."""
    if settings.METRICS_TOKEN is not None:
        given = request.headers.get("Authorization", "")
        return hmac.compare_digest(given.encode(), f"Bearer {settings.METRICS_TOKEN}".encode())
    try:
        peer = ipaddress.ip_address(request.META.get("REMOTE_ADDR", ""))
    except ValueError:
        return False
    return peer.is_loopback and not any(name in request.META for name in FORWARDED)


class _Asked:
    """What is asked of database and broker when somebody looks."""

    def collect(self) -> Iterator[Metric]:
        process = GaugeMetricFamily("commonwear_process_info", "The process that answers", labels=("pid",))
        process.add_metric((str(os.getpid()),), 1)
        yield process
        up = GaugeMetricFamily("commonwear_database_up", "Whether the database answers")
        try:
            found = [one for measure in _measures.values() for one in measure()]
        except DatabaseError:
            found = []
            up.add_metric((), 0)
        else:
            up.add_metric((), 1)
        yield up
        yield from found
        yield _sweep()


def gauge(name: str, told: str, value: float) -> GaugeMetricFamily:
    return GaugeMetricFamily(f"commonwear_{name}", told, value=value)


def days_since(day: date | None) -> int:
    return 0 if day is None else max(0, (clock.today() - day).days)


def _sweep() -> Metric:
    """Whether a sweep has been heard of; a broker that does not answer has heard of none."""
    try:
        heard = beat.is_heard()
    except beat.Unknown:
        heard = False
    return gauge("sweep_heard", "Whether the broker knows of a sweep within its last ten rounds", float(heard))


def jobs_and_erasures() -> Iterator[Metric]:
    by_state = GaugeMetricFamily("commonwear_jobs", "Jobs by kind and state", labels=("kind", "state"))
    n_of = {(kind, state): n for kind, state, n in Job.objects.values_list("kind", "state").annotate(Count("pk"))}
    for kind in jobs.handlers():
        for state in Job.State.values:
            by_state.add_metric((kind, state), n_of.get((kind, state), 0))
    yield by_state
    waiting = Job.objects.filter(state__in=(Job.State.DUE, Job.State.RUNNING))
    oldest = waiting.aggregate(day=Min("changed_on"))["day"]
    yield gauge("oldest_waiting_job_days", "Whole days since the oldest job that is not done", days_since(oldest))
    unwritten = Erasure.objects.filter(written=False).count()
    yield gauge("erasures_unwritten", "Erasures that are not in the journal yet", unwritten)


def size_of_database() -> Iterator[Metric]:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT pg_database_size(current_database())")
        else:
            cursor.execute("SELECT page_count * page_size FROM pragma_page_count(), pragma_page_size()")
        yield gauge("database_bytes", "Size of the database", cursor.fetchone()[0])
