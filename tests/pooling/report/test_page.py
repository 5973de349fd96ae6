import json
import re
from html.parser import HTMLParser

import numpy as np
import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT
from pooling.report import LicensedSite, report_html
from pooling.simulate import single_wear


class Seen(HTMLParser):
    """Tags must close in order; what is asked for from elsewhere is noted."""

    VOID = frozenset({"meta"})

    def __init__(self, page):
        super().__init__()
        self.open, self.elsewhere, self.tags, self.words, self.plots = [], [], [], [], []
        self.feed(page)
        self.text = " ".join(" ".join(self.words).replace("\N{NO-BREAK SPACE}", " ").split())
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        named = dict(attrs)
        self.tags.append(tag)
        self.elsewhere += [
            value for name, value in attrs if name.partition(":")[2] == "href" or name in ("src", "href")
        ]
        if named.get("role") == "img":
            self.plots.append(named["aria-label"].replace("\N{NO-BREAK SPACE}", " "))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)


@pytest.fixture
def page_of(read):
    def make(content, unit="mg/dL", **how):
        wear = read(content)
        report = wear.report(unit=unit, **how)
        return Seen(report_html(report, wear.columns, unit)), report

    return make


@pytest.fixture(scope="module")
def long_wear():
    return single_wear(np.random.default_rng(2), "calf", "demo-b10", n_pairs=100)


def test_the_page_asks_for_nothing_and_runs_nothing(page_of, read, long_wear):
    seen, report = page_of(long_wear)
    assert seen.elsewhere == []
    assert not {"script", "link", "iframe", "img", "object", "form", "base"} & set(seen.tags)
    raw = report_html(report, read(long_wear).columns, "mg/dL")
    assert not re.search(r"https?:|url\(|@import|\son\w+=", raw)


def test_every_plot_says_what_it_shows_and_has_a_table_and_the_caution(page_of, long_wear):
    seen, _ = page_of(long_wear)
    assert len(seen.plots) == len(set(seen.plots)) == seen.tags.count("figure") == 5
    assert all(len(said.split()) > 8 and said in seen.text for said in seen.plots)
    assert seen.tags.count("table") >= 5 + 4
    # Above everything, and under each of the five.
    assert seen.text.count(CAUTION_SHORT) == 6
    assert seen.text.index(CAUTION_SHORT) < seen.text.index("In short")
    assert all(line in seen.text for line in CAUTION_TEXT.split("\n"))


def test_words_remarks_and_limits_of_one_wear_stand_on_it(page_of, long_wear):
    seen, report = page_of(long_wear)
    for said in (report["in_words"], *report["cannot_say"]):
        assert said in seen.text
    few, report = page_of(long_wear | {"pairs": long_wear["pairs"][:5]})
    assert report["findings"][0]["seen"] in few.text


def test_off_label_stands_above_every_figure(page_of, long_wear):
    seen, _ = page_of(long_wear, licensed=[LicensedSite("chest", "all")])
    assert seen.text.index("Off-label:") < seen.text.index("In short")
    named, _ = page_of(long_wear, licensed=[LicensedSite("calf", "all")])
    assert "Off-label:" not in named.text


def test_the_whole_page_speaks_the_readers_unit(page_of, long_wear):
    seen, _ = page_of(long_wear, "mmol/L")
    assert "mg/dL" not in seen.text
    assert "fingerstick (mmol/L)" in seen.text


@pytest.mark.parametrize(("n_pairs", "n_plots"), [(0, 0), (1, 1), (5, 2), (9, 3)])
def test_fewer_pairs_have_fewer_plots_and_never_nonsense(page_of, good_record, n_pairs, n_plots):
    wear = single_wear(np.random.default_rng(4), "thigh.front", "demo-a14", n_pairs=9)
    seen, report = page_of(wear | {"pairs": wear["pairs"][:n_pairs]})
    assert report["n_pairs"] == n_pairs
    assert not re.search(r"\bnan\b|\binf\b|None|null", seen.text)
    assert (len(seen.plots) == 0) == (n_pairs == 0)
    if n_pairs < 8:
        assert "mostly" not in seen.text


def test_it_names_no_person_and_no_wear(page_of, long_wear):
    seen, _ = page_of(long_wear)
    assert seen.text.startswith("Report of one wear")


ODD = {
    "all the same": ([100] * 40, [100] * 40),
    "copied": (range(60, 300, 6), range(60, 300, 6)),
    "stuck": (range(60, 300, 6), [120] * 40),
    "one fingerstick": ([100] * 40, range(60, 300, 6)),
    "nothing but marks": ([60] * 10, [None] * 10),
    "one number among marks": ([60] * 10, [None] * 9 + [80]),
    "the far ends": ([20] * 20 + [600] * 20, [600] * 20 + [20] * 20),
}


@pytest.mark.parametrize("unit", ["mg/dL", "mmol/L"])
@pytest.mark.parametrize("name", ODD)
def test_odd_wears_have_a_report_without_nonsense(wear_of, name, unit):
    wear = wear_of(*ODD[name], every_min=400)
    report = wear.report(unit=unit)
    json.dumps(report, allow_nan=False)
    seen = Seen(report_html(report, wear.columns, unit))
    assert not re.search(r"\bnan\b|\binf\b|None|NaN", seen.text)


def test_nothing_is_said_across_a_gap(wear_of):
    words = wear_of(*ODD["the far ends"]).report()["in_words"]
    assert "mostly" not in words
