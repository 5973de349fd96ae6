"""Copies of a wear: a finding to their owner, a remark to moderators once a worker has looked, nothing to others."""

import json
from datetime import date

import pytest
from cryptography.exceptions import InvalidTag
from django.db import connection
from django.test.utils import CaptureQueriesContext

from pooling.likeness import TIMED_BANDS, UNTIMED_BANDS
from server.accounts.selectors import wearer_of
from server.core import jobs
from server.curation.selectors import queue_for_moderator, wear_for_moderator
from server.wears import copies, tasks
from server.wears.models import Wear
from server.wears.previews import File, preview_of_exports, preview_of_record
from server.wears.selectors import report_for_owner
from server.wears.services import accept_upload, take_back
from tests.server.records import pairs, raw

pytestmark = pytest.mark.django_db


def nearly(seed=1):
    """The readings of `seed` with one of twenty pairs left out and one mended."""
    changed = pairs(seed=seed)[1:]
    changed[4]["sensor"] += 7
    return {"pairs": changed, "site": "calf", "ratings": None}


def typed_sheet(record):
    """The pairs of a record as somebody would have typed them."""
    rows = [f"{pair['elapsed_min']};{pair['reference']};{pair['sensor']}" for pair in record["pairs"]]
    return "\n".join(["minutes since insertion;fingerstick mg/dL;sensor mg/dL", *rows]).encode()


def codes(member, wear):
    return {finding["code"] for finding in report_for_owner(wear.id, account=member.account)["findings"]}


def seen_by(moderator, group, wear):
    found = wear_for_moderator(group, wear.id, account=moderator.account)
    listed = {each.id: each.remarks for each in queue_for_moderator(group, account=moderator.account)}
    assert ("given_twice" in listed[wear.id]) == ("given_twice" in {finding.code for finding in found.findings})
    return "given_twice" in listed[wear.id]


def test_what_knows_a_wear_again_tells_nothing_at_rest(upload, contributor, stranger):
    first, copy = upload(contributor), upload(stranger)
    assert bytes(first.likeness) != bytes(copy.likeness)
    found = copies.bands_for([first.id, copy.id])
    assert found[first.id] == found[copy.id]
    assert len(found[first.id]) == TIMED_BANDS + UNTIMED_BANDS
    some = bytes(first.likeness)
    assert not any(band.to_bytes(8, "little", signed=True) in some for band in found[first.id])


def test_it_serves_its_own_wear_alone(upload, contributor):
    first, other = upload(contributor), upload(contributor, seed=2)
    with pytest.raises(InvalidTag):
        copies.bands_in(bytes(first.likeness), wear_id=other.id)


def test_a_nearly_equal_wear_of_ones_own_is_a_finding(upload, contributor, stranger):
    first = upload(contributor)
    assert "own_duplicate" not in codes(contributor, first)
    again, others = upload(contributor, **nearly()), upload(stranger, **nearly())
    assert "own_duplicate" in codes(contributor, again)
    assert "own_duplicate" in codes(contributor, first)
    assert "own_duplicate" not in codes(stranger, others)


@pytest.mark.parametrize("told", [{"site": "calf"}, {"site": None}], ids=["described", "not yet described"])
def test_a_preview_says_so_before_the_second_upload(upload, contributor, stranger, catalogue, told):
    upload(contributor)
    record = json.loads(raw(**nearly()))

    def shown_to(member):
        wearer = wearer_of(member.account, None)
        of_record = preview_of_record(json.dumps(record).encode(), account=member.account, wearer=wearer)
        files = [File(typed_sheet(record), "")]
        of_file = preview_of_exports(
            files, json.dumps({"record": told}).encode(), account=member.account, wearer=wearer
        )
        return [
            ["own_duplicate" in {finding["code"] for finding in wear["findings"]} for wear in found["wears"]]
            for found in (of_record, of_file)
        ]

    assert shown_to(contributor) == [[True], [True]]
    assert shown_to(stranger) == [[False], [False]]


def test_the_report_of_a_preview_says_it_as_that_of_the_upload(upload, contributor):
    sent, wearer = raw(**nearly()), wearer_of(contributor.account, None)
    upload(contributor)
    (shown,) = preview_of_record(sent, account=contributor.account, wearer=wearer)["wears"]
    kept = accept_upload(sent, account=contributor.account, wearer=wearer).wear
    assert shown["report"] == report_for_owner(kept.pk, account=contributor.account)


def test_wears_without_pairs_are_the_same_when_their_descriptions_are(upload, contributor):
    first = upload(contributor, pairs=[])
    assert "own_duplicate" not in codes(contributor, upload(contributor, pairs=[], worn_min=19_000))
    assert "own_duplicate" in codes(contributor, upload(contributor, pairs=[]))
    assert "own_duplicate" in codes(contributor, first)
    # With pairs, an equal description says nothing.
    assert "own_duplicate" not in codes(contributor, upload(contributor, seed=9))


def test_moderators_see_that_a_copy_was_given_once_a_worker_has_looked(give, upload, contributor, moderator, group):
    first, alone = give(contributor), give(contributor, seed=5)
    copy = give(moderator, **nearly())  # not in the moderator's own queue
    assert not seen_by(moderator, group, first)
    assert copies.look_for_copies() == 3
    assert seen_by(moderator, group, first)
    assert not seen_by(moderator, group, alone)
    assert Wear.objects.get(pk=copy.pk).copied is True
    assert copies.look_for_copies() == 0


def test_a_copy_that_was_not_given_is_none_to_moderators(give, upload, contributor, stranger, moderator, group):
    upload(contributor)
    upload(stranger)
    first = give(contributor)
    copies.look_for_copies()
    assert not seen_by(moderator, group, first)


def test_once_its_copy_is_taken_back_a_wear_is_alone_at_the_next_look(give, contributor, moderator, group):
    first, copy = give(contributor), give(moderator)
    copies.look_for_copies()
    take_back(copy.id, account=moderator.account)
    assert Wear.objects.get(pk=copy.pk).copied is False
    give(contributor, seed=7)
    copies.look_for_copies()
    assert not seen_by(moderator, group, first)


def test_the_sweep_looks(give, contributor):
    give(contributor)
    assert tasks.look_for_copies in jobs.sweepers().values()
    tasks.look_for_copies(date(2031, 2, 10))
    assert not Wear.objects.filter(copied__isnull=True).exists()


def test_an_upload_asks_the_database_the_same_whether_somebody_else_has_the_wear_or_not(
    contributor, stranger, moderator, catalogue
):
    """One side of somebody else's duplicate is its time; that it is the same work is what can be tested."""

    def asked(member, **changes):
        with CaptureQueriesContext(connection) as queries:
            accept_upload(raw(**changes), account=member.account, wearer=wearer_of(member.account, None))
        return [query["sql"].split()[0] for query in queries]

    first = asked(contributor)
    assert asked(stranger) == first
    assert asked(moderator, seed=3) == first
