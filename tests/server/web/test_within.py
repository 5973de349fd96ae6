"""What pages tell of parts of a wear, with known answers."""

import re

import numpy as np
import pytest

from pooling.columns import PairColumns
from pooling.edition import assemble
from pooling.report.meter import meter_part
from server.web import within
from server.web.pages import Figure
from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts

SITE = "/groups/hill-walkers/editions/7/sites/upper_arm.back/"
EDITION = "/groups/hill-walkers/"


@pytest.fixture(scope="module")
def document():
    return assemble(make_fit(), make_context(), make_outcomes(), make_parts())


@pytest.fixture(scope="module")
def bare():
    return assemble(make_fit(), make_context(), make_outcomes())


def words(page):
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", page.content.decode()))


def test_a_site_tells_its_parts_in_their_order(document):
    phases, ranges, prompts = within.part_tables(document, "mg/dL", site="upper_arm.back")
    assert [line.name for line in phases.lines] == [
        "day 1",
        "days 2 to 7",
        "day 8 and later",
        "each day worn counting alike",
    ]
    assert phases.lines[0].mard_pct.number == "11.1"
    assert phases.lines[0].against_all.interval
    assert ranges.lines[0].name == "fingerstick below 70 mg/dL"
    assert [line.part for line in prompts.lines] == ["scheduled", "doubt"]


def test_limits_of_ranges_are_in_the_readers_unit(document):
    table = within.part_tables(document, "mmol/L", site=None)[1]
    assert table.lines[2].name == "fingerstick above 10.0 mmol/L"


def test_all_sites_together_tell_shares_and_no_level(document):
    line = within.part_tables(document, "mg/dL", site=None)[0].lines[0]
    assert line.mard_pct == Figure("", "")
    assert line.share.startswith("31.4") or line.share.startswith("31.5")


def test_a_site_without_parts_tells_none(document, bare):
    assert within.part_tables(document, "mg/dL", site="chest") == ()
    assert within.part_tables(bare, "mg/dL", site=None) == ()
    assert within.low_lines(bare) == within.says_lines(bare, "mg/dL") == ()
    assert within.part_figure(bare, "phases", "day1", "upper_arm.back") == Figure("", "")


def test_lows_and_what_the_sensor_says(document):
    (low,) = within.low_lines(document, site="upper_arm.back")
    assert low.missed.number == "24.4" or low.missed.number.startswith("24")
    assert within.low_lines(document)[0].site is None
    (says,) = within.says_lines(document, "mg/dL", site="upper_arm.back")
    assert [one.fingerstick for one in says.ranges] == ["60", "70", "80", "100", "150", "200", "250"]
    assert float(says.ranges[1].low) < float(says.ranges[1].high)


def test_what_choosing_does_is_told_or_said_to_be_untold(document, bare):
    everywhere, *sites = within.lot_lines(document)
    assert everywhere.label == "all sites together"
    assert len(sites) == 2
    assert everywhere.less_chosen.number.lstrip("+").startswith("0.6")
    assert within.lot_lines(bare) == ()


def test_the_meter_of_the_standard_is_that_of_the_report():
    empty = PairColumns(*[np.empty(0)] * 9, glucose_unit="mg/dL")
    found = meter_part(empty, "within-15-pct", 9.15)
    assert found["mard_of_meter_pct"] == within.METER_ALONE_PCT
    assert str(found["mard_without_meter_pct"]) == within._without_meter(9.15)


def test_asides_tell_days_set_times_lots_and_the_meter(document, bare):
    days, scheduled, by_lot, meter = within.asides(document, "upper_arm.back")
    assert "Where a lot had drawn this site" in by_lot
    assert "100 people or more, both together" in by_lot
    assert "each day worn counting alike" in days
    assert "at set times alone" in scheduled
    assert "ISO 15197:2013" in meter
    assert len(within.asides(bare, "upper_arm.back")) == 1
    assert within.asides(document, "calf_of_nobody") == ()


@pytest.mark.django_db
def test_the_pages_show_them(client, edition):
    site, whole = words(client.get(SITE)), words(client.get(EDITION))
    assert "When a sensor here says the fingerstick mostly is 60 mg/dL" in site
    assert "the sensor showed no low" in site
    assert "Day by day of wear" in site
    assert "Within a wear, all sites together" in whole
    assert "Missed, of 100 low fingersticks" in whole
    assert "MARD by lot less that of chosen sites (points)" in whole
    assert "Where a lot had drawn this site" in site


@pytest.mark.django_db
def test_nothing_of_the_code_shows_on_the_pages(client, edition):
    """A name in a template that two includes use would print the one in the other's place."""
    for address in (SITE, EDITION):
        assert "Line(" not in client.get(address).content.decode()
