"""A reader of an edition cannot tell a cell that is withheld from one in which there is nothing."""

import re

import pytest

from server.editions.services import publish_draft
from tests.server.api.test_problems_alike import answer
from tests.server.editions.conftest import FLANK, THIGH

PRESENT = {FLANK, THIGH}


@pytest.fixture
def published(pool):
    """Two cells that are shown, and wears of three people in a third that is not."""
    people = pool.members(8)
    pool.wears(people, THIGH, FLANK)
    pool.wears(people[:3], "forearm")
    pool.cut_off(1)
    draft = pool.draft()
    publish_draft(pool.group, draft.pk, by=pool.moderator.account)
    return pool


def test_the_page_of_a_withheld_site_is_that_of_an_empty_one(published, client):
    withheld, empty = (page_of(client, site) for site in ("forearm", "buttock"))
    assert withheld[0] == 200
    assert withheld == empty
    assert page_of(client, THIGH) != empty
    assert page_of(client, "nowhere")[0] == 404


def page_of(client, site):
    """All that can be told apart in the page of a site, but for its name and the digest over that."""
    status, headers, content = answer(client, "GET", f"/groups/harbour/editions/1/sites/{site}/")
    named = re.compile(re.escape(site).encode(), re.IGNORECASE)
    return status, [header for header in headers if header[0] != "ETag"], named.sub(b"SITE", content)


@pytest.mark.parametrize("table", ["sites", "sites_by_model", "contrasts"])
def test_tables_and_charts_name_no_withheld_site(published, client, table):
    for rest in (f"tables/{table}.csv", f"charts/{table}.json"):
        content = client.get(f"/api/v1/groups/harbour/editions/1/{rest}").content.decode()
        assert "forearm" not in content.lower()


def test_bytes_size_and_tag_of_an_edition_are_those_of_one_without_the_withheld_people(pool, client):
    from django.db import transaction

    people = pool.members(8)
    pool.wears(people, THIGH, FLANK)
    seen = []
    for extra in ((), people[:3], people[:4]):
        start = transaction.savepoint()
        pool.wears(list(extra), "forearm")
        pool.cut_off(1)
        publish_draft(pool.group, pool.draft().pk, by=pool.moderator.account)
        said = client.get("/api/v1/groups/harbour/editions/1/")
        seen.append((said.content, said.headers["ETag"], said.headers.get("Content-Length")))
        transaction.savepoint_rollback(start)
    assert seen[1:] == seen[:1] * 2
