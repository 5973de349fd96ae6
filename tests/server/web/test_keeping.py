"""Pages kept ready: the same bytes to everybody who may read them, and never a moment longer than they stand."""

import pytest
from django.test import Client

from server.core.notices import post_notice
from server.groups.models import Group
from server.web import keeping

AT = "/groups/hill-walkers/editions/7/"
PAGES = (AT, "/groups/hill-walkers/", f"{AT}sites/thigh.front/", f"{AT}compare/?site=chest&site=calf", f"{AT}sheet/")


@pytest.fixture(autouse=True)
def _nothing_kept():
    keeping.forget()
    yield
    keeping.forget()


@pytest.mark.parametrize("address", PAGES)
def test_a_page_has_a_tag_and_is_not_sent_twice_to_the_same_reader(client, edition, address):
    first = client.get(address)
    again = client.get(address)
    assert first.content == again.content
    assert first["ETag"] == again["ETag"]
    assert (first["Cache-Control"], first["Vary"]) == ("public, no-cache", "Cookie, Accept-Language")
    unchanged = client.get(address, headers={"If-None-Match": first["ETag"]})
    assert (unchanged.status_code, unchanged.content) == (304, b"")


@pytest.mark.parametrize("address", PAGES)
def test_few_queries_at_first_and_fewer_afterwards(client, edition, address, django_assert_max_num_queries):
    with django_assert_max_num_queries(9):  # four of them ask whether the page stands
        client.get(address)
    with django_assert_max_num_queries(4):
        client.get(address)


@pytest.mark.parametrize("address", PAGES)
def test_at_most_five_queries_draw_a_page(client, edition, address, django_assert_max_num_queries, settings):
    settings.EDITION_LOOKUP_S = 60
    client.get(address)
    keeping._PAGES.clear()
    with django_assert_max_num_queries(5):
        client.get(address)
    with django_assert_max_num_queries(0):
        client.get(address)


def test_each_unit_has_its_page(client, edition):
    mg_dl = client.get(AT)
    client.cookies["unit"] = "mmol/L"
    mmol_l = client.get(AT)
    assert mg_dl["ETag"] != mmol_l["ETag"]
    assert b"3.9 mmol/L" in mmol_l.content


def test_a_notice_is_on_the_page_at_once(client, edition):
    assert b"Read this." not in client.get(AT).content
    post_notice("Read this.")
    assert b"Read this." in client.get(AT).content


def test_a_group_that_closes_is_closed_at_once(client, edition):
    assert client.get(AT).status_code == 200
    Group.objects.filter(slug="hill-walkers").update(public=False)
    assert client.get(AT).status_code == 404


def test_what_is_drawn_for_a_member_is_kept_for_nobody(edition, new_member):
    member = Client()
    member.force_login(new_member().account)
    drawn = member.get(AT)
    assert drawn["Cache-Control"] == "no-store"
    assert b"My wears" in drawn.content
    assert b"My wears" not in Client().get(AT).content


def test_a_page_with_a_date_that_moves_is_not_kept(client, group):
    assert client.get("/groups/harbour/")["Cache-Control"] == "no-store"


def test_the_shelf_holds_so_many_and_the_least_asked_for_goes():
    shelf = keeping.Shelf(2)
    shelf.put("a", 1)
    shelf.put("b", 2)
    assert shelf.get("a") == 1
    shelf.put("c", 3)
    assert [shelf.get(key) for key in "abc"] == [1, None, 3]
