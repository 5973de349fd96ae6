"""What pages tell beside accuracy, and that withheld, empty and foreign look alike there."""

import re
from datetime import date

import pytest

from pooling.edition import EmptyFit, assemble, canonical_bytes, sha256_hex
from server.web import wearing
from server.web.pages import Figure
from tests.pooling.conftest import make_context, make_fit, make_outcomes

SITE = "/groups/hill-walkers/editions/7/sites/upper_arm.back/"
EDITION = "/groups/hill-walkers/"


@pytest.fixture(scope="module")
def document():
    return assemble(make_fit(), make_context(), make_outcomes())


def words(page):
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", page.content.decode()))


def test_a_line_holds_days_the_rated_life_and_the_ends(document):
    (line,) = wearing.stay_lines(document, site="upper_arm.back")
    assert (line.people, line.sensor_model) == ("at least 100 people", None)
    assert [day.name for day in line.days] == ["day 3", "day 7", "day 10", "day 14"]
    assert line.days[0].figure.number
    assert re.fullmatch(r"[\d.]+", line.rated.number)
    assert line.ends[0].name == "came off or was knocked off"
    (model,) = wearing.stay_lines(document, site="upper_arm.back", by_model=True)
    assert model.sensor_model == "demo-a14"


def test_a_small_row_tells_its_end_alone(document):
    (line,) = wearing.stay_lines(document, site="chest")
    assert {day.figure for day in line.days} == {Figure("", "")}
    assert line.ends == ()
    assert line.rated.number.startswith("at least ")


def test_skin_and_ratings_by_site(document):
    (skin,) = wearing.skin_lines(document, site="thigh.front")
    assert skin.figure.number
    assert [line.name for line in wearing.rating_lines(document, site="thigh.front")] == [
        "How easy it was to place",
        "How comfortable it was to wear",
    ]
    assert len(wearing.skin_lines(document)) == 3


@pytest.mark.parametrize("site", ["forearm", "buttock", "nonsense"])
def test_too_few_nobody_and_no_such_site_look_alike(document, site):
    assert wearing.stay_lines(document, site=site) == ()
    assert wearing.skin_lines(document, site=site) == ()
    assert wearing.rating_lines(document, site=site) == ()


def test_an_edition_from_before_these_tables_shows_none(document):
    old = {**document, "tables": {name: document["tables"][name] for name in ("sites", "contrasts")}}
    assert wearing.stay_lines(old) == wearing.skin_lines(old) == ()


def test_the_page_of_a_site_says_it_in_plain_words_and_the_same_number_as_its_table(edition, client, document):
    page = words(client.get(SITE))
    row = next(row for row in document["tables"]["sites"] if row["site"] == "upper_arm.back")
    rated = f"{row['on_rated_pct']['value']:g}"
    assert f"Of 100 sensors worn here, {rated} (" in page
    assert "How the others came off" in page
    assert "redness or itch that lasts for hours" in page
    assert "How comfortable it was to wear" in page
    assert "can be expected to lie so far off" in page


def test_a_group_with_time_on_the_skin_alone_shows_that(edition, client):
    from server.editions.models import Edition, Slot

    content = canonical_bytes(assemble(EmptyFit(), make_context(number=8), make_outcomes()))
    slot = Slot.objects.create(number=8, cut_off=date(2026, 8, 1))
    Edition.objects.create(
        group=edition.group,
        slot=slot,
        document=content,
        sha256=sha256_hex(content),
        published_month=date(2026, 8, 1),
    )
    page = words(client.get(EDITION))
    assert "how near its readings are to a fingerstick" in page
    assert "Living with it" in page


def test_the_page_of_an_edition_has_the_tables_and_their_files(edition, client):
    page = client.get(EDITION)
    assert "Living with it" in words(page)
    for table in ("survival", "skin", "ratings"):
        assert f"/tables/{table}.csv" in page.content.decode()
