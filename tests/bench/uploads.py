"""What it costs to take wears in and to read them at a cut-off, beside PostgreSQL doing nothing but the same bytes.

These want a PostgreSQL of this machine, at DATABASE_URL or else on 127.0.0.1:5432; each makes a database of its own
there and drops it. Without one they end and say so. The clock is that of the wall: most of the work is the server's.
"""

import http.client
import json
import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any
from uuid import uuid4

from tests.bench.runner import bench, ratio
from tests.redteam.world import fresh_world, new_member
from tests.server.records import raw

NEAR_ADDRESS = "postgresql://127.0.0.1:5432/postgres"
N_PAIRS, N_UPLOADS, N_BATCH, N_SUMMARIES = 30, 20, 200, 100_000
ROUNDS, PER_REQUEST = 5, 50
BARE = "/bare/"


@contextmanager
def _postgresql() -> Iterator[None]:
    """The service on an empty database of a PostgreSQL server."""
    import psycopg

    address = os.environ.setdefault("DATABASE_URL", NEAR_ADDRESS)
    try:
        psycopg.connect(address, connect_timeout=5).close()
    except psycopg.OperationalError:
        raise SystemExit(
            "This bench wants PostgreSQL at DATABASE_URL or on 127.0.0.1:5432, and none answers."
        ) from None
    with fresh_world():
        try:
            yield
        finally:
            from django.db import connection

            connection.close()
            connection.close_pool()


def _records(n: int) -> Iterator[bytes]:
    """Different wears without end, so that none is the copy of another."""
    start = 1
    while True:
        yield from (raw(seed=seed, n_pairs=N_PAIRS, plan=None) for seed in range(start, start + n))
        start += n


def _keep(record: bytes, account: Any) -> Any:
    from server.accounts.selectors import wearer_of
    from server.wears.services import accept_upload

    return accept_upload(record, account=account, wearer=wearer_of(account, None)).wear


def _written(wear: Any) -> tuple[Any, ...]:
    """The bytes that an upload leaves: record, findings, likeness, readings, summary."""
    return (
        json.dumps(wear.header),
        json.dumps(wear.findings),
        bytes(wear.likeness),
        bytes(wear.pairs.block),
        bytes(wear.summary.payload),
    )


TABLES = """
CREATE TABLE plain_wear (id uuid PRIMARY KEY, header jsonb, findings jsonb, likeness bytea);
CREATE TABLE plain_readings (id uuid PRIMARY KEY, block bytea, summary bytea);
CREATE TABLE plain_pairs (
    wear uuid, elapsed_min int, reference real, sensor real, prompt text, source text, rate_mg_dl_min real, gap_min int
);
CREATE INDEX ON plain_pairs (wear);
"""
WEAR = "INSERT INTO plain_wear VALUES (%s, %s, %s, %s)"
PAIRS = """
INSERT INTO plain_pairs
SELECT %s, * FROM unnest(%s::int[], %s::real[], %s::real[], %s::text[], %s::text[], %s::real[], %s::int[])
"""


@contextmanager
def _plain_connection() -> Iterator[Any]:
    import psycopg
    from django.db import connection

    with psycopg.connect(**_address(connection), autocommit=True) as own:
        own.execute(TABLES)
        yield own


def _address(connection: Any) -> dict[str, Any]:
    wanted = ("dbname", "host", "port", "user", "password")
    return {name: value for name, value in connection.get_connection_params().items() if name in wanted}


def _upload(*, durable: bool) -> float:
    with _postgresql(), _plain_connection() as own:
        from django.db import connection

        account = new_member().account
        settle = f"SET synchronous_commit TO {'on' if durable else 'off'}"
        own.execute(settle)
        connection.cursor().execute(settle)
        records = _records(10_000)
        first = next(records)
        header, findings, likeness, _, _ = _written(_keep(first, account))
        columns = list(zip(*(pair.values() for pair in json.loads(first)["pairs"]), strict=True))
        waiting = [next(records) for _ in range(N_UPLOADS * ROUNDS)]

        accounts = [new_member().account for _ in range(ROUNDS)]

        def uploads() -> None:
            account = accounts.pop()  # what an upload costs grows with what its account has kept
            for _ in range(N_UPLOADS):
                _keep(waiting.pop(), account)

        def two_statements() -> None:
            for _ in range(N_UPLOADS):
                number = uuid4()
                with own.transaction():
                    own.execute(WEAR, (number, header, findings, likeness))
                    own.execute(PAIRS, (number, *map(list, columns)))

        return ratio(uploads, two_statements, rounds=ROUNDS, clock=time.perf_counter)


@bench(
    "upload of 30 pairs in process: a transaction of two statements, of the wear and of its pairs as rows",
    bound=1.3,
    only_by_name=True,
)
def upload_in_process() -> float:
    """Neither side waits for the disk to have it."""
    return _upload(durable=False)


@bench("the same, where both wait for the disk", bound=1.1, only_by_name=True)
def upload_with_durable_commit() -> float:
    """What a service does."""
    return _upload(durable=True)


# Over HTTP


@contextmanager
def _served() -> Iterator[Callable[..., Any]]:
    """The service behind a socket of this machine, in this process; and what asks it over one connection."""
    from django.core.handlers.wsgi import WSGIHandler
    from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler

    class Quiet(WSGIRequestHandler):
        disable_nagle_algorithm = True  # else both sides wait for an acknowledgement, and look alike

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    server = ThreadedWSGIServer(("127.0.0.1", 0), Quiet)
    server.set_app(WSGIHandler())
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    line = http.client.HTTPConnection("127.0.0.1", server.server_port)

    def ask(method: str, address: str, body: bytes, **headers: str) -> tuple[int, bytes]:
        line.request(method, address, body, {"Content-Type": "application/json", "Host": "testserver", **headers})
        answer = line.getresponse()
        return answer.status, answer.read()

    try:
        yield ask
    finally:
        line.close()
        server.shutdown()
        server.server_close()
        thread.join()


def _bearer(member: Any) -> dict[str, str]:
    return {"Authorization": member._credentials["HTTP_AUTHORIZATION"]}


def _bare_view(answer: bytes) -> None:
    """A view beside the service's own that reads the body and answers with fixed bytes."""
    from django.http import HttpResponse
    from django.urls import path
    from django.views.decorators.csrf import csrf_exempt

    from server import urls

    @csrf_exempt
    def bare(request: Any) -> HttpResponse:
        assert request.body
        return HttpResponse(answer, status=201)

    urls.urlpatterns.insert(0, path(BARE.lstrip("/"), bare))


def _upload_over_http(**prefer: str) -> float:
    """Through sockets of this machine and every layer of the service, signed in, one after the other."""
    with _postgresql():
        member = new_member()
        bearer, *bearers = (_bearer(one) for one in (member, *(new_member() for _ in range(ROUNDS))))
        records = _records(10_000)
        headers = {"Idempotency-Key": "first", **prefer}
        kept = member.post("/api/v1/wears/", next(records), content_type="application/json", headers=headers)
        assert kept.status_code == 201, kept.content
        _bare_view(kept.content)
        waiting = [next(records) for _ in range(N_UPLOADS * ROUNDS)]
        again = waiting[0]
        with _served() as ask:

            def uploads() -> None:
                own = bearers.pop()
                for _ in range(N_UPLOADS):
                    key = {"Idempotency-Key": uuid4().hex}
                    status, told = ask("POST", "/api/v1/wears/", waiting.pop(), **own, **key, **prefer)
                    assert status == 201, told

            def bare() -> None:
                for _ in range(N_UPLOADS):
                    status, told = ask("POST", BARE, again, **bearer)
                    assert (status, told) == (201, kept.content)

            return ratio(uploads, bare, rounds=ROUNDS, clock=time.perf_counter)


@bench(
    "upload of 30 pairs over HTTP, durable, no report asked for: a bare view given and giving the same bytes",
    bound=5.0,
    only_by_name=True,
)
def upload_over_http() -> float:
    """As the command line does."""
    return _upload_over_http(Prefer="return=minimal")


@bench("the same, answered with the report", bound=5.0, only_by_name=True)
def upload_over_http_with_report() -> float:
    """As whoever states no preference is answered."""
    return _upload_over_http()


# Many at once


@bench(
    "200 wears in batches of 50: COPY of the bytes they leave (1 / 0.6 of its time)", bound=1 / 0.6, only_by_name=True
)
def batches_beside_copy() -> float:
    """The function behind the address for batches, without HTTP; as many wears again in each round."""
    import msgspec

    with _postgresql(), _plain_connection() as own:
        from server.api.batch import verdicts_on

        accounts = [new_member().account for _ in range(3)]
        records = _records(10_000)
        written = _written(_keep(next(records), new_member().account))
        batches = [
            msgspec.json.encode(
                {"wears": [{"key": uuid4().hex, "record": msgspec.Raw(next(records))} for _ in range(50)]}
            )
            for _ in range(3 * N_BATCH // PER_REQUEST)
        ]

        def ingest() -> None:
            account = accounts.pop()
            for _ in range(N_BATCH // PER_REQUEST):
                assert {one["status"] for one in verdicts_on(batches.pop(), account=account)} == {201}

        def copy() -> None:
            rows = [uuid4() for _ in range(N_BATCH)]
            with own.transaction():
                for table, columns in (("plain_wear", written[:3]), ("plain_readings", written[3:])):
                    with own.cursor().copy(f"COPY {table} FROM STDIN") as copying:
                        for number in rows:
                            copying.write_row((number, *columns))

        return ratio(ingest, copy, rounds=3, clock=time.perf_counter)


# A cut-off reads


@bench("100,000 summaries read for a cut-off: the same bytes read as one array", bound=2.0, only_by_name=True)
def summaries_at_a_cut_off() -> float:
    """Each side from PostgreSQL into memory, one as summaries by their wears, the other as one value of bytes."""
    with _postgresql(), _plain_connection() as own:
        import numpy as np

        from server.wears.selectors import summaries_for

        pattern = _keep(next(_records(1)), new_member().account)
        own.execute(MANY, {"pattern": pattern.pk, "n": N_SUMMARIES})
        own.execute("CREATE TABLE together (bytes bytea)")
        own.execute("ALTER TABLE together ALTER bytes SET STORAGE EXTERNAL")
        own.execute("INSERT INTO together SELECT string_agg(payload, '') FROM wears_wearsummary")
        own.execute("ANALYZE")
        ids = [row[0] for row in own.execute("SELECT wear_id FROM wears_wearsummary").fetchall()]

        def summaries() -> None:
            assert len(summaries_for(ids)) == N_SUMMARIES + 1

        def one_array() -> None:
            with own.cursor(binary=True) as cursor:
                (whole,) = cursor.execute("SELECT bytes FROM together").fetchone()
            assert np.frombuffer(whole, dtype=np.uint8).size > N_SUMMARIES

        return ratio(summaries, one_array, rounds=3, clock=time.perf_counter)


MANY = """
WITH fresh AS (SELECT gen_random_uuid() AS id FROM generate_series(1, %(n)s)),
wear AS (
    INSERT INTO wears_wear (id, state, previous_state, shown_state, header, findings, likeness, copied, released,
                            appealed, uploaded_month)
    SELECT fresh.id, state, previous_state, shown_state, header, findings, likeness, copied, released, appealed,
           uploaded_month
    FROM fresh, wears_wear WHERE wears_wear.id = %(pattern)s RETURNING id
)
INSERT INTO wears_wearsummary (wear_id, protocol_version, everyone_version, n_pairs, payload)
SELECT wear.id, protocol_version, everyone_version, n_pairs, payload
FROM wear, wears_wearsummary WHERE wear_id = %(pattern)s
"""
