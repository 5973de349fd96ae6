"""Published bytes are a function of the sums: what is not in them may be absurd, what they were made of may be gone."""

import json
from dataclasses import dataclass, field

import pytest
from django.db import connection, transaction

from pooling.columns import columns_from, pack
from pooling.record import parse_record
from server.curation.services import exclude_wear
from server.editions.models import Place, SealedRecord
from server.editions.services import publish_draft
from server.wears.intake import UPLOAD_RULES, summary_of
from server.wears.models import Wear, WearPairs, WearSummary
from server.wears.services import take_back
from server.wears.transitions import State
from tests.server.editions.conftest import FLANK, THIGH
from tests.server.records import raw

ABSURD = [
    {"elapsed_min": 600 * n, "reference": 41, "sensor": 500, "prompt": "scheduled", "source": "trace", "gap_min": 1}
    for n in range(1, 21)
]


@dataclass
class Cast:
    """Wears that will be counted at the first cut-off, and wears that will not, by why they will not."""

    pool: object
    counted: list = field(default_factory=list)
    left_out: dict = field(default_factory=dict)


@pytest.fixture
def cast(pool, upload):
    """Sums of two cells; outside them wears that wait, were excluded, are queued, were taken back, or never given."""
    people = pool.members(8)
    counted = [*pool.wears(people, THIGH), *pool.wears(people[:2] + pool.members(4), FLANK)]
    waits = pool.wears(people[:3], "calf")
    excluded, queued, taken_back, regretted = (
        pool.give(people[3 + n], seed=600 + n, site=THIGH, to=pool.group) for n in range(4)
    )
    exclude_wear(pool.group, excluded.pk, code="not_believable", by=pool.moderator.account)
    take_back(taken_back.pk, account=people[5].account)
    take_back(regretted.pk, account=people[6].account)
    private = upload(people[7], seed=700, site=THIGH)
    outside = {"waits": waits, "excluded": [excluded], "queued": [queued], "private": [private]}
    return Cast(pool, counted, outside | {"taken back": [taken_back, regretted]})


def make_absurd(wear):
    """Readings and statistics that nobody could overlook if they counted anywhere."""
    columns = columns_from(parse_record(raw(pairs=ABSURD, site=wear.header["site"])))
    assert WearPairs.objects.filter(wear=wear).update(block=pack(columns)) == 1
    payload = summary_of(wear, columns, UPLOAD_RULES).payload
    own = WearSummary.objects.get(wear=wear)
    own.payload = payload
    own.save(update_fields=["payload"])


def history(cast, *, change=None, after=None):
    """Cut off and publish with a change before it, and one after it; then the database stands again as it stood."""
    start = transaction.savepoint()
    if change is not None:
        change()
    cast.pool.cut_off(1)
    sums = sorted(
        json.dumps(payload, sort_keys=True) for payload in SealedRecord.objects.values_list("payload", flat=True)
    )
    if after is not None:
        after()
    draft = cast.pool.draft()
    edition = publish_draft(cast.pool.group, draft.pk, by=cast.pool.moderator.account)
    states = dict(Wear.objects.values_list("pk", "state")) if after is None else {}
    content = bytes(edition.document)
    transaction.savepoint_rollback(start)
    return content, sums, states


def test_what_is_not_counted_may_be_absurd(cast):
    content, sums, states = history(cast)
    assert {states[wear.pk] for wear in cast.counted} == {State.ADMITTED}
    assert len(json.loads(content)["tables"]["sites"]) == 2
    for why, wears in cast.left_out.items():
        assert State.ADMITTED not in {states[wear.pk] for wear in wears}, why
        changed, sums_then, _ = history(cast, change=lambda wears=wears: [make_absurd(wear) for wear in wears])
        assert (changed, sums_then) == (content, sums), why


def test_of_what_is_counted_absurd_wears_move_the_figures(cast):
    """Without this the test above could not fail. What one wear adds is bounded, and may be lost in rounding."""
    content, sums, _ = history(cast)
    one, one_sums, _ = history(cast, change=lambda: make_absurd(cast.counted[0]))
    every, _, _ = history(cast, change=lambda: [make_absurd(wear) for wear in cast.counted])
    assert one_sums != sums
    assert every not in (content, one)


def test_once_counted_the_wears_may_be_absurd_taken_back_or_gone(cast):
    content, _, _ = history(cast)
    for after in (everything_absurd, all_weights_absurd, tables_away):
        changed, _, _ = history(cast, after=after)
        assert changed == content, after.__name__


def everything_absurd():
    for wear in Wear.objects.all():
        make_absurd(wear)


def all_weights_absurd():
    """What later overlaps and ties would weigh with; nothing that is published now looks at it."""
    assert Place.objects.update(q1=[9e9], q2=[9e9])


def tables_away():
    """The tables themselves are gone: whatever asked for one of them would fail."""
    away = ("wears_wearpairs", "wears_wearsummary", "wears_wear", "accounts_holding")
    with connection.cursor() as cursor:
        for table in (*away, "accounts_consent", "core_idempotencykey"):
            cursor.execute(f'ALTER TABLE "{table}" RENAME TO "{table}_away"')
