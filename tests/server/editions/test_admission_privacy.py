"""What the whole database knows after cut-offs of a village: sums of enough accounts, and no way from sums to wears."""

from base64 import b64encode, urlsafe_b64encode
from collections import Counter

import pytest
from django.db import connection

from pooling.likeness import TIMED_BANDS, UNTIMED_BANDS
from server.accounts.models import Holding, PlaceLabel
from server.core.outcomes import Family
from server.editions.models import Place, RecordKind, SealedRecord
from server.wears.cutoff import families_of
from server.wears.models import Awaited, Wear
from server.wears.transitions import State
from tests.server.editions.marks import spent_marks
from tests.server.editions.village import STORY, standing_village

K = 5
SLOT_KEY = bytes(range(101, 133))


@pytest.fixture(scope="module")
def counted(django_db_setup, django_db_blocker, tmp_path_factory):
    """Two cut-offs have passed; some of the village's wears have been counted, others wait. Nobody changes it."""
    with standing_village(django_db_blocker.unblock(), tmp_path_factory.mktemp("village")) as village:
        for slot in (1, 2):
            village.bring_wears(slot)
            village.cut_off(slot, slot_key=SLOT_KEY)
        yield village


def rows():
    """Every row of every table, as one line of text in which an id or a key reads the same wherever it stands."""
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            for row in cursor.fetchall():
                yield table, "|".join(map(plain, row))


def plain(value):
    if isinstance(value, bytes | memoryview):
        return bytes(value).hex()
    return str(value).replace("-", "")


def test_some_are_counted_and_some_wait(counted):
    states = Counter(Wear.objects.values_list("state", flat=True))
    assert set(states) == {State.ADMITTED, State.APPROVED}
    assert min(states.values()) > 3
    kinds = set(SealedRecord.objects.values_list("kind", flat=True))
    assert kinds >= {RecordKind.BLOCK, RecordKind.OVERLAP, RecordKind.WITHIN, RecordKind.KURTOSIS}


def test_behind_every_sum_of_values_stand_k_accounts(counted):
    account_of = dict(PlaceLabel.objects.values_list("label", "account_id"))
    assert len(set(account_of.values())) <= STORY.groups[0].people
    for record in SealedRecord.objects.exclude(kind=RecordKind.OVERLAP):
        seats = (
            record.seats.values_list("place_id") if record.kind == RecordKind.TIE else record.places.values_list("pk")
        )
        accounts = {account_of[label] for (label,) in seats}
        assert len(accounts) == record.payload["n_people"] >= K


def test_blocks_count_exactly_the_wears_that_were_admitted(counted):
    admitted = Wear.objects.filter(state=State.ADMITTED)
    n_counted = 0
    for family in Family:
        blocks = SealedRecord.objects.filter(kind=RecordKind.BLOCK, family=family)
        n_wears = sum(block.payload["n_wears"] for block in blocks)
        told = [wear for wear in admitted if family in families_of(wear)]
        assert n_wears == len(told) - Awaited.objects.filter(wear__in=admitted, family=family).count()
        assert sum(Place.objects.filter(record__in=blocks).values_list("n_wears", flat=True)) == n_wears
        n_counted += n_wears
    assert n_counted > admitted.count()
    # A wear that fell off before it had many pairs is known by none.
    n_known, rest = divmod(len(spent_marks()), TIMED_BANDS + UNTIMED_BANDS)
    assert rest == 0
    assert 0.9 * n_counted < n_known <= n_counted


def test_the_slot_key_is_nowhere(counted):
    spellings = {SLOT_KEY.hex(), *(encode(SLOT_KEY).decode() for encode in (b64encode, urlsafe_b64encode))}
    written = [text.replace("-", "") for text in spellings] + [str(SLOT_KEY), str(list(SLOT_KEY))]
    for _, row in rows():
        assert not any(text in row for text in written)


def test_no_row_of_any_table_names_a_wear_and_a_sum(counted):
    wears = {wear_id.hex for wear_id in Holding.objects.values_list("wear_id", flat=True)}
    sums = {record_id.hex for record_id in SealedRecord.objects.values_list("pk", flat=True)}
    sums |= {label.hex for label in Place.objects.values_list("label", flat=True)}
    tables = {"wears": set(), "sums": set()}
    for table, row in rows():
        words = {"wears": any(wear in row for wear in wears), "sums": any(name in row for name in sums)}
        assert not all(words.values()), table
        for name, is_named in words.items():
            tables[name] |= {table} if is_named else set()
    # That ids are found where they must stand shows that the look through the tables sees them.
    assert {"wears_wear", "accounts_holding"} <= tables["wears"]
    assert {"editions_place", "accounts_placelabel"} <= tables["sums"]


def test_of_an_admitted_wear_only_the_shared_end_is_kept_and_not_its_slot(counted):
    """Slots 1 and 2 end together, so the end does not tell in which of them a wear was counted."""
    admitted = Wear.objects.filter(state=State.ADMITTED)
    assert set(admitted.values_list("first_end_bucket", "end_bucket")) == {(24, 24)}
