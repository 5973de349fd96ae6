"""Pages of figures: what they show of a document, and that withheld, empty and foreign look alike."""

import re

import pytest

from pooling.charts import CHARTS
from pooling.edition import read_document
from server.groups.models import Group
from server.groups.services import found_group
from server.web.colouring import FIRST
from server.web.scale import SCALES
from tests.server.editions.printed import printed

AT = "/groups/hill-walkers/editions/7/"


@pytest.fixture
def orchard(moderator):
    """A group that has published nothing."""
    return found_group(
        founder=moderator.account,
        slug="orchard",
        name="Orchard",
        description="They prune.",
        public=True,
        feeds_everyone=True,
        wearers="mixed",
    )


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


def test_the_body_of_an_edition_says_what_its_colours_mean(client, edition):
    page = client.get(AT).content.decode()
    caption = page.split("<figcaption>")[1].split("</p>")[0]
    assert caption.strip() == f"<p>{SCALES[FIRST].title}"


def test_an_edition_says_what_its_figures_cannot_tell(client, edition):
    page = words(client.get(AT))
    told = page.split("What these figures cannot tell")[1]
    for what in ("drift", "meter", "resemble", "rested", "one bad wear"):
        assert what in told


def edition_document(edition):
    return read_document(bytes(edition.document))


def test_beside_a_table_the_plot_is_the_narrow_one_on_a_wide_screen_too(client, edition):
    page = client.get(AT).content.decode()
    where = dict(re.findall(r'media="([^"]+)" srcset="[^"]*/(\w+)\.svg\?narrow"', page))
    assert where["(max-width: 40rem)"] == "contrasts"
    assert set(where) == {"(max-width: 40rem)", "(max-width: 40rem), (min-width: 62rem), print"}


def test_the_plot_is_drawn_on_the_server_in_two_widths(client, edition):
    address = "/groups/hill-walkers/editions/7/charts/sites.svg"
    wide, narrow = client.get(address), client.get(address, {"narrow": ""})
    assert wide["Content-Type"] == "image/svg+xml"
    assert b"<script" not in wide.content
    assert wide["ETag"] != narrow["ETag"]
    assert client.get(address, headers={"If-None-Match": wide["ETag"]}).status_code == 304


ENGLISH = re.compile(r"\b(the|of|people|arm|points|interval|against|all|readings|days?|to|licensed|Not for|site)\b")


def lines_drawn(answer):
    """What stands in a picture, its breaks of line undone."""
    return " ".join(re.findall(r">([^<>]+)</t(?:ext|span)>", answer.content.decode()))


@pytest.mark.parametrize("chart", CHARTS)
def test_a_picture_speaks_the_language_of_its_page(client, edition, chart):
    address = f"/groups/hill-walkers/editions/7/charts/{chart}.svg"
    german, english = (client.get(address, headers={"accept-language": language}) for language in ("de", "en"))
    assert ENGLISH.findall(lines_drawn(english))
    assert not ENGLISH.findall(lines_drawn(german)), lines_drawn(german)
    assert "Nicht für die Behandlung" in lines_drawn(german)
    assert {"Accept-Language", "Cookie"} <= set(german["Vary"].replace(" ", "").split(","))
    numbers = [len(re.findall(r"\d", lines_drawn(answer).replace("+", ""))) for answer in (english, german)]
    assert numbers[0] == numbers[1]


def test_the_api_draws_english_pictures(client, edition):
    address = "/api/v1/groups/hill-walkers/editions/7/charts/sites.svg"
    english, german = (client.get(address, headers={"accept-language": language}) for language in ("en", "de"))
    assert english.status_code == 200
    assert english.content == german.content


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


def test_a_group_without_figures_says_when_and_shows_everyone_meanwhile(client, edition, orchard):
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


def words(answer):
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", answer.content.decode()))


def test_sites_stand_in_the_order_of_their_figure_and_say_that_the_order_may_be_open(client, edition):
    page = client.get(AT).content.decode()
    rows = sorted(edition_document(edition)["tables"]["sites"], key=lambda row: row["mard_pct"]["value"])
    table = page[page.index("The same numbers") :]
    places = [table.index(f">{row['label']}</a>") for row in rows]
    assert places == sorted(places)
    assert "not by whether their intervals overlap" in words(client.get(AT))


def test_each_chart_has_the_caution_under_it(client, edition):
    page = client.get(AT).content.decode()
    captions = re.findall(r"<figcaption>(.*?)</figcaption>", page, re.DOTALL)
    charts = [caption for caption in captions if "JSON" in caption]
    assert len(charts) == 8
    assert all("Not for treatment" in caption for caption in charts)


def test_the_catalogue_says_for_whom_a_site_is_named(client, edition):
    from decimal import Decimal

    from server.core.catalogue import list_model

    list_model("demo-a14", rated_life_days=Decimal(14), licensed={"upper_arm.back": "adult"})
    list_model("demo-b10", rated_life_days=Decimal(10), licensed={"thigh.front": "all"})
    page = words(client.get(f"{AT}sites/upper_arm.back/"))
    assert "demo-a14 yes, for adults only" in page
    assert "demo-b10 no: off-label" in page


def test_the_page_of_a_site_says_whom_it_is_about_and_by_which_rule_it_is_sure(client, edition):
    page = words(client.get(f"{AT}sites/thigh.front/"))
    assert "All wearers are adults" in page
    assert "Well known: 100 people or more" in page


def test_sites_side_by_side_are_those_that_were_asked_for_and_have_figures(client, edition):
    asked = {"site": ["thigh.front", "forearm", "upper_arm.back", "thigh.front"]}
    page = client.get(f"{AT}compare/", asked).content.decode()
    assert page.count('<th scope="col">') == 2
    assert "about 1.4 points nearer" in page
    assert "Choose at least two" in client.get(f"{AT}compare/", {"site": "thigh.front"}).content.decode()
    assert "Choose at least two" not in client.get(f"{AT}compare/").content.decode()


def test_what_is_not_told_among_two_sites_is_said(client, edition):
    page = words(client.get(f"{AT}compare/", {"site": ["calf", "thigh.outer"]}))
    assert "tell no difference between these sites" in page


def test_the_page_to_print_has_all_sites_the_caution_and_the_citation(client, edition):
    page = words(client.get(f"{AT}sheet/"))
    assert all(row["label"] in page for row in edition_document(edition)["tables"]["sites"])
    assert edition.sha256 in page
    assert "Report device faults" in page


def test_earlier_editions_say_nothing_of_changes_while_there_is_one(client, edition, orchard):
    page = words(client.get("/groups/hill-walkers/editions/"))
    assert "Figures of 1 July 2026" in page
    assert "as before" not in page
    assert "There are no figures yet." in words(client.get("/groups/orchard/editions/"))


def test_while_nothing_can_be_shown_published_studies_stand_there_with_their_source(client, orchard):
    page = words(client.get("/groups/orchard/"))
    assert "Diabetes, Obesity and Metabolism 2018;20:1503-1507" in page
    assert "forearm, chest, calf, lower back" in page


@pytest.mark.parametrize("way", ["compare/", "sheet/", "sites/thigh.front/", ""])
def test_no_page_of_an_edition_that_is_not_there(client, edition, way):
    assert client.get(f"/groups/hill-walkers/editions/6/{way}").status_code == 404


@pytest.mark.parametrize(
    "file", ["edition.json", "tables/sites.csv", "charts/skin.svg", "charts/sites.png", "charts/sites.json"]
)
def test_files_are_handed_out_to_whoever_may_read_and_kept_by_nobody_else(client, edition, file):
    public = client.get(AT + file)
    assert public.status_code == 200
    assert public["Cache-Control"].startswith("public")
    assert client.get(AT + file, headers={"If-None-Match": public["ETag"]}).status_code == 304
    Group.objects.filter(slug="hill-walkers").update(public=False)
    assert client.get(AT + file).status_code == 404


def test_a_member_of_a_closed_group_reads_its_figures_and_files(client, edition, new_member):
    from server.groups.models import Membership

    member = new_member()
    Group.objects.filter(slug="hill-walkers").update(public=False)
    Membership.objects.create(group=edition.group, account=member.account)
    client.force_login(member.account)
    assert client.get(AT)["Cache-Control"] == "no-store"
    assert client.get(f"{AT}charts/sites.svg")["Cache-Control"] == "private, no-cache"


def test_the_document_is_the_very_bytes_that_were_published(client, edition):
    assert client.get(f"{AT}edition.json").content == bytes(edition.document)


@pytest.mark.parametrize("file", ["tables/nonsense.csv", "charts/nonsense.svg", "charts/sites.pdf"])
def test_there_is_no_such_file(client, edition, file):
    assert client.get(AT + file).status_code == 404


def test_the_package_is_a_way_away_for_whoever_may_read(client, edition, orchard, clock):
    assert "package.zip" not in client.get(AT).content.decode()  # published without a certificate
    printed(orchard)
    at = "/groups/orchard/editions/1/"
    assert f'href="{at}package.zip"' in client.get(at).content.decode()
    answer = client.get(f"{at}package.zip")
    assert answer["Content-Type"] == "application/zip"
    assert answer.content.startswith(b"PK")
    assert answer["Content-Disposition"] == 'attachment; filename="orchard-edition-1.zip"'
