import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT
from server.groups.models import Group

PAGES = ("/", "/groups/hill-walkers/", "/groups/hill-walkers/editions/7/sites/thigh.front/", "/groups/nobody/")


@pytest.mark.parametrize("address", PAGES)
def test_every_page_carries_the_caution_and_a_strict_policy(client, edition, address):
    answer = client.get(address)
    assert answer["Content-Type"] == "text/html; charset=utf-8"
    page = answer.content.decode()
    assert all(paragraph.replace("'", "&#x27;") in page for paragraph in CAUTION_TEXT.split("\n"))
    assert CAUTION_SHORT.replace("'", "&#x27;") in page
    policy = answer["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert "style=" not in page


def test_home_lists_public_groups_only(client, edition):
    Group.objects.create(
        slug="hidden", name="Hidden", public=False, feeds_everyone=False, wearers="mixed", founded_on="2030-01-01"
    )
    page = client.get("/").content.decode()
    assert "Hill walkers" in page
    assert "1 July 2026" in page
    assert "Hidden" not in page


def test_the_reader_chooses_the_unit(client, edition):
    answer = client.post("/unit/", {"unit": "mmol/L", "next": "/groups/hill-walkers/"})
    assert (answer.status_code, answer["Location"]) == (302, "/groups/hill-walkers/")
    assert "Fingerstick 3.9 mmol/L" in client.get("/groups/hill-walkers/").content.decode()


def test_the_unit_button_leads_nowhere_else(client, edition):
    answer = client.post("/unit/", {"unit": "stones", "next": "https://elsewhere.example/"})
    assert answer["Location"] == "/"
    assert "unit" not in answer.cookies
