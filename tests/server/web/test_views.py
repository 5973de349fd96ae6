import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT
from server.groups.models import Group

PAGES = ("/", "/groups/hill-walkers/", "/groups/hill-walkers/editions/7/sites/thigh.front/", "/groups/nobody/")


@pytest.mark.parametrize("address", PAGES)
def test_every_page_carries_the_caution_and_a_strict_policy(client, edition, address):
    answer = client.get(address)
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


def test_an_edition_shows_life_units_first_then_the_plot_and_its_numbers(client, edition):
    page = client.get("/groups/hill-walkers/").content.decode()
    assert page.index("mostly showed") < page.index("<img")
    row = next(row for row in edition_document(edition)["tables"]["sites"] if row["site"] == "upper_arm.back")
    at_70 = row["shows"][0]
    assert f"{at_70['from_mg_dl']} to {at_70['to_mg_dl']}" in page
    assert f"{row['mard_pct']['lower']:g} to {row['mard_pct']['upper']:g}" in page
    assert edition.sha256 in page
    assert "forearm: nothing can be said" in page  # four people only
    assert "buttock: nothing can be said" in page  # nobody


def edition_document(edition):
    from pooling.edition import read_document

    return read_document(bytes(edition.document))


def test_the_reader_chooses_the_unit(client, edition):
    answer = client.post("/unit/", {"unit": "mmol/L", "next": "/groups/hill-walkers/"})
    assert (answer.status_code, answer["Location"]) == (302, "/groups/hill-walkers/")
    assert "fingerstick of 3.9 mmol/L" in client.get("/groups/hill-walkers/").content.decode()


def test_the_unit_button_leads_nowhere_else(client, edition):
    answer = client.post("/unit/", {"unit": "stones", "next": "https://elsewhere.example/"})
    assert answer["Location"] == "/"
    assert "unit" not in answer.cookies


def test_the_plot_is_drawn_on_the_server_in_two_widths(client, edition):
    address = "/groups/hill-walkers/editions/7/charts/sites.svg"
    wide, narrow = client.get(address), client.get(address, {"narrow": ""})
    assert wide["Content-Type"] == "image/svg+xml"
    assert b"<script" not in wide.content
    assert wide["ETag"] != narrow["ETag"]
    assert client.get(address, headers={"If-None-Match": wide["ETag"]}).status_code == 304


@pytest.mark.parametrize(
    "address",
    [
        "/groups/nobody/",
        "/groups/hidden/",
        "/groups/hill-walkers/editions/6/",
        "/groups/hill-walkers/editions/7/sites/nonsense/",
        "/no/such/page/",
    ],
)
def test_hidden_empty_and_foreign_look_alike(client, edition, address):
    Group.objects.create(
        slug="hidden", name="Hidden", public=False, feeds_everyone=False, wearers="mixed", founded_on="2030-01-01"
    )
    answer = client.get(address)
    assert answer.status_code == 404
    assert "There is nothing here for you" in answer.content.decode()


def test_a_group_without_figures_says_when_and_shows_everyone_meanwhile(client, edition):
    Group.objects.create(
        slug="orchard", name="Orchard", public=True, feeds_everyone=True, wearers="mixed", founded_on="2030-01-01"
    )
    page = client.get("/groups/orchard/").content.decode()
    assert "shows no figures of its own at present" in page
    assert "1 March 2031" in page


def test_a_site_that_few_wear_and_one_that_nobody_wears_have_the_same_page(client, edition):
    few, nobody = (client.get(f"/groups/hill-walkers/editions/7/sites/{site}/") for site in ("forearm", "buttock"))
    assert (few.status_code, nobody.status_code) == (200, 200)
    alike = few.content.decode().replace("Forearm", "Buttock").replace("/forearm/", "/buttock/")
    assert alike == nobody.content.decode()
    assert "say nothing about this site" in alike


def test_a_site_without_a_row_leads_to_the_row_of_its_region(client, edition):
    page = client.get("/groups/hill-walkers/editions/7/sites/abdomen.flank/").content.decode()
    assert 'href="/groups/hill-walkers/editions/7/sites/abdomen/"' in page
