"""A copy of the database, without the keys and without the two tables of links, joins no wear to anybody or to another.

What is tried: equal values of any columns of any tables, also inside JSON and text; months and days; the order in
which rows are stored. Each way is first tried with the links left in, to see that it would find them.
"""

import json
import re
from collections import defaultdict
from datetime import date

import pytest
from django.apps import apps
from django.db import connection

from pooling.record import record_schema
from server.accounts.models import Account, Holding
from server.core import clock as clocks
from server.editions.models import SealedRecord
from server.groups.models import Group, Protocol
from server.wears.models import Wear
from server.wears.transitions import State
from tests.server.editions.conftest import FLANK, THIGH
from tests.server.records import record
from tests.server.releasing import release

LINKS = {"accounts_holding", "accounts_placelabel"}
WEARS = {"wears_wear", "wears_wearpairs", "wears_wearsummary"}
# Values that tell rows apart: ids, marks, digests, tokens, and numbers that nobody would choose.
TELLING = re.compile(r"[0-9a-f]{8}-?(?:[0-9a-f]{4}-?){3}[0-9a-f]{12}|[A-Za-z0-9_-]{12,}")


@pytest.fixture
def story(pool):
    """Eight members who joined on different days, with wears by the API in others, some counted, some not."""
    days = [date(2031, 1, day) for day in (4, 9, 14, 24)]
    members = [member for day in days for member in pool.members(2, joined=day)]
    for slot, sites in ((1, (THIGH, FLANK)), (2, (THIGH,))):
        for number, member in enumerate(members):
            for site in sites:
                given(pool, member, number=1000 * slot + 10 * number + len(site), site=site)
        pool.cut_off(slot)
    given(pool, members[0], number=5000, site=THIGH)
    return pool, members


def given(pool, member, *, number, site):
    """Uploaded and given by the API, and approved, as one member would do with a plan of their own."""
    body = json.dumps(record(seed=number, site=site, plan=f"plan-of-{member.sign_in_name}"[:60]))
    answer = member.api.generic(
        "POST", "/api/v1/wears/", body, content_type="application/json", HTTP_IDEMPOTENCY_KEY=f"key-{number}"
    )
    wear = answer.json()["id"]
    assert member.api.put(f"/api/v1/wears/{wear}/group/", {"group": pool.group.slug}).status_code == 200
    release(wear)
    decision = f"/api/v1/groups/{pool.group.slug}/curation/{wear}/decision/"
    assert pool.moderator.api.post(decision, {"action": "approve"}).status_code == 201


def dumped(*, without=frozenset()):
    """Every row of every table of ours as it is stored, in the order in which the database hands it out."""
    rows = []
    for app in apps.get_app_configs():
        for model in app.get_models() if app.name.startswith("server.") else ():
            table = model._meta.db_table
            if table in without:
                continue
            with connection.cursor() as cursor:
                cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
                names = [column.name if hasattr(column, "name") else column[0] for column in cursor.description]
                rows.extend((table, dict(zip(names, row, strict=True))) for row in cursor.fetchall())
    return rows


def telling(value):
    """Whatever in a value could tell its row apart, written in one way."""
    if isinstance(value, bytes | memoryview):
        value = bytes(value)
        return {value, value.hex()} if len(value) >= 8 else set()
    if isinstance(value, int) and not isinstance(value, bool):
        return {str(value)} if abs(value) >= 2**31 else set()
    if isinstance(value, str | dict | list) or hasattr(value, "hex"):
        return {found.replace("-", "").lower() for found in TELLING.findall(str(value))}
    return set()


def shared_by_many():
    """Names of groups, their rules, sums and catalogue, of decisions' moderators: they stand in the rows of many."""
    known = set()
    for model in (Group, Protocol, SealedRecord):
        known |= {str(pk).replace("-", "") for pk in model.objects.values_list("pk", flat=True)}
    known |= set(apps.get_model("curation.Decision").objects.values_list("moderator_mark", flat=True))
    return known | telling(json.dumps(record_schema()))


def joined(rows):
    """Rows that hang together by telling values, as groups of (table, row)."""
    common, holders = shared_by_many(), defaultdict(list)
    for index, (_, row) in enumerate(rows):
        for value in set().union(*map(telling, row.values())) - common:
            holders[value].append(index)
    parent = list(range(len(rows)))

    def root(index):
        while parent[index] != index:
            parent[index] = parent[parent[index]]
            index = parent[index]
        return index

    for indices in holders.values():
        for index in indices[1:]:
            parent[root(index)] = root(indices[0])
    groups = defaultdict(list)
    for index, row in enumerate(rows):
        groups[root(index)].append(row)
    return list(groups.values())


def people_and_wears(group):
    accounts = {str(row["id"]) for table, row in group if table == "accounts_account"}
    wears = {str(row.get("id", row.get("wear_id"))) for table, row in group if table in WEARS}
    return accounts, wears


@pytest.mark.django_db
def test_equal_values_join_no_wear_to_an_account_and_no_two_wears(story):
    n_wears = Wear.objects.count()
    assert n_wears == 25
    assert Wear.objects.filter(state=State.ADMITTED).count() >= 16
    found = [people_and_wears(group) for group in joined(dumped(without=LINKS))]
    assert max(len(wears) for _, wears in found) == 1
    assert sum(len(wears) for _, wears in found) == n_wears
    assert not [group for group in found if all(group)]
    # The same search finds every owner as soon as the links are there.
    linked = [people_and_wears(group) for group in joined(dumped())]
    assert sum(len(wears) for accounts, wears in linked if accounts) == n_wears


@pytest.mark.django_db
def test_dates_leave_every_member_possible_who_had_joined(story):
    """The month of upload says that its owner was there, and nothing more: nobody's other dates single them out."""
    dates = defaultdict(set)
    for table, row in dumped(without=LINKS):
        for name, value in row.items():
            if table in WEARS and name in ("uploaded_month", "erase_on", "end_bucket", "slot_since"):
                dates[name].add(str(value))
    # Wears of one cut-off share every date and number they have.
    assert len(dates["uploaded_month"]) == len(dates["erase_on"]) <= 3
    assert len(dates["end_bucket"] - {"None"}) == 1
    joined_last = max(Account.objects.filter(holdings__isnull=False).values_list("joined_on", flat=True))
    assert joined_last < Wear.objects.order_by("uploaded_month").first().uploaded_month
    assert {row["answered_on"] for table, row in dumped() if table == "core_idempotencykey"} >= {clocks.today()}


@pytest.mark.django_db
def test_the_order_of_rows_is_that_of_random_keys(story):
    if connection.vendor != "sqlite":
        return  # there a `sweep` by hand or at night puts the tables in this order (tests/server/core/test_deletion.py)
    for app in apps.get_app_configs():
        for model in app.get_models() if app.name.startswith("server.") else ():
            if model._meta.label == "core.Erasure":
                continue
            table, key = model._meta.db_table, model._meta.pk.column
            stored = [row[key] for name, row in dumped(without=LINKS) if name == table]
            assert stored == sorted(stored), table


@pytest.mark.django_db
def test_what_is_numbered_names_nobody(story):
    """The journal's rows are numbered, since their order is that of its lines; all they hold is keyed marks."""
    people = {str(pk).replace("-", "") for pk in Account.objects.values_list("pk", flat=True)}
    people |= {str(pk).replace("-", "") for pk in Holding.objects.values_list("pk", flat=True)}
    rows = [row for table, row in dumped() if table == "core_erasure"]
    assert not {value for row in rows for value in telling(row["line"])} & people
