import csv
import re

import pytest
from icalendar import Calendar

from pooling.caution import CAUTION_SHORT

SITES = ("chest", "calf")


def flat(text):
    return " ".join(text.split())


@pytest.fixture
def plan(commonwear, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return lambda *more: commonwear("plan", *SITES, "--life-days", "10", *more)


def test_what_it_can_show_comes_before_the_order(plan):
    ended = plan("--fingersticks", "20")
    assert ended.code == 0
    assert ended.out.index("4 times of 5") < ended.out.index("The order, drawn by lot")
    assert "registered nowhere" in flat(ended.out)
    assert "not known here" in flat(ended.out)
    assert CAUTION_SHORT in flat(ended.out)
    assert max(map(len, ended.out.splitlines())) <= 80


def test_a_seed_draws_the_same_order_again_and_is_told(plan):
    first = plan("--json").json
    again = plan("--json", "--seed", first["seed"]).json
    assert again["plan"]["wears"] == first["plan"]["wears"]
    begins = {plan("--json", "--wears", "1", "--seed", seed).json["plan"]["wears"][0]["site"] for seed in range(12)}
    assert begins == set(SITES)


def test_the_cap_holds_on_every_day_even_where_it_is_one(plan):
    made = plan("--json", "--daily-cap", "1", "--seed", "1").json["plan"]
    for wear in made["wears"]:
        days = [prick["day"] for prick in wear["pricks"]]
        assert len(days) == len(set(days)) >= 8


def test_a_spot_worn_lately_rests(plan):
    rested = ("--rested", "calf:left:0", "--rested", "calf:right:0", "--rested", "chest:left:0")
    made = plan("--json", "--wears", "1", *rested, "--rested", "chest:right:0").json["plan"]
    assert min(wear["from_day"] for wear in made["wears"]) == 22


def test_the_table_holds_the_rows_and_the_calendar_an_event_for_each_thing_to_do(plan, tmp_path):
    calendar = ("--ics", "plan.ics", "--starts", "2037-05-04", "--wakes", "07:00")
    made = plan("--json", "--csv", "plan.csv", *calendar).json
    with (tmp_path / "plan.csv").open(newline="") as table:
        rows = list(csv.DictReader(table))
    assert [{name: str(value) for name, value in row.items()} for row in made["rows"]] == rows
    events = Calendar.from_ical((tmp_path / "plan.ics").read_bytes()).walk("VEVENT")
    wears = made["plan"]["wears"]
    assert len(events) == len(wears) + 1 + sum(len(wear["pricks"]) for wear in wears)
    assert events[0].decoded("dtstart").isoformat() == "2037-05-04T08:00:00"


REFUSED = [
    (("--wears", "9"), "--wears"),
    (("--fingersticks", "60"), "--fingersticks"),
    (("--daily-cap", "0"), "--daily-cap"),
    (("--waking-hours", "4"), "--waking-hours"),
    (("--rested", "calf"), "--rested"),
    (("--rested", "calf:up:5"), "--rested"),
    (("--ics", "plan.ics"), "--starts"),
    (("elbow",), "elbow"),
]


@pytest.mark.parametrize(("more", "named"), REFUSED)
def test_what_cannot_be_planned_names_the_option(plan, more, named):
    ended = plan(*more)
    assert (ended.code, ended.out) == (2, "")
    assert named in ended.err


def test_one_site_is_no_test(commonwear):
    ended = commonwear("plan", "calf", "--life-days", "10")
    assert ended.code == 2
    assert "two sites or more" in ended.err


def test_files_that_are_none(plan, tmp_path):
    (tmp_path / "edition.json").write_text("[]")
    assert plan("--edition", "edition.json").code == 1
    assert plan("--edition", "absent.json").code == 3
    assert plan("--csv", "absent/plan.csv").code == 3


def test_help_has_examples(commonwear):
    assert re.search(r"commonwear plan \S+ \S+ --life-days", commonwear("plan", "--help").out)
