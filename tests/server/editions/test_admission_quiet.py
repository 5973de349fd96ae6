"""No object prints what somebody measured: a log line, a test's output or an error page may print any of them."""

import sys
from itertools import islice

import msgspec
import pytest

from pooling.columns import columns_from
from pooling.record import parse_record
from pooling.summary import SummaryRules, summarise_record
from server.accounts.selectors import wearer_of
from server.curation.selectors import wear_for_moderator
from server.curation.services import approve_wear
from server.editions.admission import run_cut_off
from server.wears.selectors import report_for_owner, wears_of
from server.wears.services import accept_upload, give_to_group
from tests.server.canaries import Canary, Form, found_in, reading
from tests.server.editions.conftest import FIRST, THIGH
from tests.server.records import pairs, raw
from tests.server.releasing import release

VALUES = (217.31, 143.87, 98.43, 301.59, 176.21, 129.67, 88.91, 244.13)
OURS = ("pooling.", "server.")
MOST = 30


def record():
    return raw(pairs=[pair | {"reference": value} for pair, value in zip(pairs(len(VALUES)), VALUES, strict=True)])


def canaries():
    """The readings, and every number with many digits that was worked out from them."""
    statistics = summarise_record(parse_record(record()), rules=SummaryRules(version=1))
    numbers = [number for number in numbers_in(msgspec.to_builtins(statistics)) if len(repr(number)) > 9]
    assert len(numbers) > 20
    own = Canary("statistics", tuple(Form("text", repr(number).encode(), strong=True) for number in numbers))
    return (*map(reading, VALUES), own)


def numbers_in(built):
    if isinstance(built, float):
        yield built
    for inner in built.values() if isinstance(built, dict) else built if isinstance(built, list) else ():
        yield from numbers_in(inner)


def of_ours(value):
    """The objects of our classes in what a function hands back."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list | tuple) else (value,)
    return [thing for thing in islice(inner, 10) if type(thing).__module__.startswith(OURS)]


@pytest.fixture
def printed():
    """What every object of ours that a function of ours hands back prints, by the name of its class."""
    seen = {}

    def look(frame, event, value):
        if event != "return" or frame.f_code.co_name == "__repr__":
            return
        if frame.f_globals.get("__name__", "").startswith(OURS):
            for thing in of_ours(value):
                texts = seen.setdefault(type(thing), set())
                if len(texts) < MOST:
                    texts.add(repr(thing))

    yield lambda on: sys.setprofile(look if on else None), seen
    sys.setprofile(None)


def test_nothing_that_is_handed_on_between_upload_and_cut_off_prints_a_value(printed, pool, upload, monkeypatch):
    watch, seen = printed
    people = pool.members(6)
    pool.wears(people[1:], THIGH)
    owner = people[0]
    watch(True)
    columns_from(parse_record(record()))
    wear = accept_upload(record(), account=owner.account, wearer=wearer_of(owner.account, None)).wear
    give_to_group(wear.pk, account=owner.account, group=pool.group)
    report_for_owner(wear.pk, account=owner.account)
    wears_of(owner.account)
    release(wear.pk)
    wear_for_moderator(pool.group, wear.pk, account=pool.moderator.account)
    approve_wear(pool.group, wear.pk, by=pool.moderator.account)
    pool.clock.set(FIRST)
    run_cut_off(1)
    watch(False)
    looked_for = canaries()
    assert {"WearRecord", "PairColumns", "WearSummary", "Stratum", "Entrant", "UploadResult"} <= {
        kind.__name__ for kind in seen
    }
    telling = {
        f"{kind.__module__}.{kind.__qualname__}"
        for kind, texts in seen.items()
        if any(found_in(text.encode(), looked_for) for text in texts)
    }
    assert telling == set()
