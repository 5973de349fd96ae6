"""Hidden, empty, erased, somebody else's and never there: one answer, in status, headers, body and size."""

import re
from uuid import uuid4

import pytest

from server.core.middleware import REQUEST_ID
from server.groups.services import found_group
from server.wears.services import erase_wear, give_to_group

NOWHERE = "nowhere"
FORM_TOKEN = re.compile(rb'(name="csrfmiddlewaretoken" value=")\w+')


@pytest.fixture
def closed(member_of_another_group):
    """A group that is not open, as long a word as one that does not exist."""
    return found_group(
        founder=member_of_another_group.account,
        slug="hideout",
        name="Hideout",
        public=False,
        feeds_everyone=True,
        wearers="mixed",
    )


def answer(client, method, address, body=None):
    """All that can be told apart in an answer, but for the address asked for, a form's token and the request's id."""
    said = client.generic(method, address, body or "", content_type="application/json")
    content = FORM_TOKEN.sub(rb"\1TOKEN", said.content.replace(address.encode(), b"ADDRESS"))
    headers = [header for header in said.headers.items() if header[0] != REQUEST_ID]
    return said.status_code, sorted(headers), content


def all_alike(client, method, addresses, body=None):
    answers = [answer(client, method, address, body) for address in addresses]
    assert answers[0][0] == 404
    for address, other in zip(addresses, answers, strict=True):
        assert other == answers[0], address


WEAR_CALLS = [
    ("GET", "", None),
    ("DELETE", "", None),
    ("GET", "report/", None),
    ("GET", "disclosure/?group=everyone", None),
    ("PUT", "group/", '{"group": "everyone"}'),
    ("DELETE", "group/", None),
]


@pytest.mark.parametrize(("method", "rest", "body"), WEAR_CALLS, ids=[f"{m} {r}" for m, r, _ in WEAR_CALLS])
def test_wears(contributor, stranger, upload, group, method, rest, body):
    private, given, erased = (upload(contributor, seed=seed) for seed in (1, 2, 3))
    own_erased = upload(stranger, seed=4)
    give_to_group(given.pk, account=contributor.account, group=group)
    erase_wear(erased.pk, account=contributor.account)
    erase_wear(own_erased.pk, account=stranger.account)
    ids = [uuid4(), private.pk, given.pk, erased.pk, own_erased.pk]
    all_alike(stranger.api, method, [f"/api/v1/wears/{wear}/{rest}" for wear in ids], body)


GROUP_CALLS = [
    ("GET", "", None),
    ("GET", "protocol/", None),
    ("PUT", "protocol/", '{"k": 9}'),
    ("PUT", "membership/", "{}"),
    ("PUT", "membership/", '{"invitation": "not-a-code"}'),
    ("DELETE", "membership/", None),
    ("GET", "members/", None),
    ("POST", "invitations/", None),
    ("GET", "editions/", None),
    ("GET", "editions/latest/", None),
    ("GET", "editions/1/", None),
    ("GET", "editions/1/tables/sites.csv", None),
    ("GET", "editions/1/charts/sites.svg", None),
    ("GET", "drafts/", None),
    ("POST", "drafts/", None),
    ("GET", "curation/", None),
    ("GET", "record/", None),
    ("GET", "closings/", None),
    ("POST", "closings/", '{"site": "calf", "sensor_model": "demo-a14", "end": 24, "code": "stuck"}'),
]


@pytest.mark.parametrize(("method", "rest", "body"), GROUP_CALLS, ids=[f"{m} {r} {b}" for m, r, b in GROUP_CALLS])
def test_groups(stranger, closed, method, rest, body):
    all_alike(stranger.api, method, [f"/api/v1/groups/{slug}/{rest}" for slug in (NOWHERE, closed.slug)], body)


@pytest.mark.parametrize("rest", ["", "editions/1/", "editions/1/sites/calf/", "editions/1/charts/sites.svg"])
def test_pages_of_groups(client, closed, rest):
    all_alike(client, "GET", [f"/groups/{slug}/{rest}" for slug in (NOWHERE, closed.slug)])


def test_a_wear_in_the_queue_of_another_group_is_no_wear(moderator, member_of_another_group, contributor, give, group):
    given = give(contributor, seed=9)
    own = [f"/api/v1/groups/meadow/curation/{wear}/" for wear in (uuid4(), given.pk)]
    all_alike(member_of_another_group.api, "GET", own)


def test_the_strangers_answers_can_differ_at_all(contributor, stranger, upload):
    """Without this the tests above could not fail."""
    wear = upload(contributor)
    with pytest.raises(AssertionError):
        all_alike(contributor.api, "GET", [f"/api/v1/wears/{uuid4()}/", f"/api/v1/wears/{wear.pk}/"])
