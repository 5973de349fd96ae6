"""What comes from below is said in the reader's language; what nobody has words for stays as it came."""

import re

import pytest
from django.utils import translation

from pooling.charts import CHARTS
from pooling.edition import assemble
from pooling.marks import finding
from server.accounts.consents import paragraphs
from server.web import saying
from server.web.saying import Lexicon, after_its_word, group_name, localised, said
from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts

LEXICON = {
    "calf": "Wade",
    "%(n)s pair": "%(n)s Paar",
    "%(n)s pairs": "%(n)s Paare",
    "%(low)s to %(high)s": "%(low)s bis %(high)s",
    "%(seen)s can be counted.": "%(seen)s zählen.",
    "Worn at the %(site)s for %(days)s days.": "%(days)s Tage getragen, Stelle: %(site)s.",
    "First one. Second one.": "Beide.",
    "Third one.": "Das Dritte.",
    "In 95 %% of cases.": "In 95 %% der Fälle.",
    "it is right": "es stimmt",
}


@pytest.fixture
def lexicon(monkeypatch) -> Lexicon:
    made = saying.lexicon_of(LEXICON)
    monkeypatch.setattr(saying, "_lexicon", lambda _locale: made)
    return made


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("calf", "Wade"),
        ("Calf", "Wade"),
        ("12 pairs", "12 Paare"),
        ("1 pair", "1 Paar"),
        ("1,200 pairs can be counted.", "1.200 Paare zählen."),
        ("8.6 to 9.9", "8,6 bis 9,9"),
        ("from here to there", "from here to there"),
        ("Worn at the calf for 9.5 days.", "9,5 Tage getragen, Stelle: Wade."),
        ("First one. Second one. Third one.", "Beide. Das Dritte."),
        ("Third one. Something else of 2.5.", "Das Dritte. Something else of 2,5."),
        ("In 95 % of cases.", "In 95 % der Fälle."),
        ("It is right", "Es stimmt"),
        ("Calf, it is right", "Wade, es stimmt"),
        ("calf, demo-a14", "calf, demo-a14"),
        (", calf", ", Wade"),
        (", demo-a14", ", demo-a14"),
        ("demo-a14", "demo-a14"),
        ("2031-01-17T08:00:00", "2031-01-17T08:00:00"),
        ("", ""),
    ],
)
def test_what_is_said_in_german(lexicon, english, german):
    with translation.override("de"):
        assert said(english) == german


def test_english_stays_english_to_the_letter(lexicon):
    assert said("calf") == "calf"
    assert said("8.6 to 9.9") == "8.6 to 9.9"


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("9.2", "9,2"),
        ("−1.25 %", "−1,25 %"),
        ("1,234.5", "1.234,5"),
        ("at 70, 80 and 90", "at 70, 80 and 90"),
        ("10.1177/19322968221091816", "10.1177/19322968221091816"),
        ("version 2.0.1", "version 2.0.1"),
        ("ISO 15197:2013.", "ISO 15197:2013."),
    ],
)
def test_numbers_are_written_as_the_language_writes_them(english, german):
    assert localised(english) == english
    with translation.override("de"):
        assert localised(english) == german


def test_a_language_without_a_catalogue_leaves_all_as_it_is():
    with translation.override("cy"):
        assert said("calf") == "calf"


def test_the_group_without_a_founder_is_called_in_the_readers_words():
    assert (group_name("Everyone"), group_name("Hill walkers")) == ("Everyone", "Hill walkers")
    with translation.override("de"):
        assert (group_name("Everyone"), group_name("Hill walkers")) == ("Alle zusammen", "Hill walkers")


ENGLISH = re.compile(r"\b(the|of|and|from|that|could|would|with|people|sites|together|is|are|overlap|reads?|your?)\b")
REPORTED = [
    "Of 4 low fingersticks, the sensor missed 1; in the long run those that it misses could be anything from 5 to 70 "
    "in 100.",
    "Of 3 lows that the sensor showed, none was false by the fingerstick; in the long run those that are false could "
    "be anything from 0 to 56 in 100.",
    "Beside a fingerstick of 100 mg/dL the sensor was off by about 7 mg/dL on average, and read neither high nor low. "
    "From 54 pairs that average could as well be anything from 6 to 8 mg/dL.",
    "Part of every difference is the meter's. The meter's leaflet promises 95 % of its readings within 15 %, if "
    "it just keeps that promise. Beside such a meter a perfect sensor would still show a MARD of about 6.1 %. Taken "
    "out of the 7.3 % seen here, about 4.0 % would be the sensor's.",
    "12 second strips give the meter a scatter of its own of 5.0 % (coefficient of variation); what both strips have "
    "wrong alike, they do not show.",
    "The unit is said to be mg/dL, but fingersticks look like mmol/L; give every reading in one unit.",
    "The share of sensors still on at the end of their rated life (of 100) is 70 for all 2 rows, as far as figures are "
    "rounded.",
    "Bias: mean of sensor minus fingerstick",
]


@pytest.mark.parametrize("english", REPORTED)
def test_no_english_is_left_where_sentences_and_clauses_stand_together(english):
    with translation.override("de"):
        assert not ENGLISH.search(said(english)), said(english)


@pytest.mark.parametrize(
    ("english", "german"), [("5.7 to 8.4 %", "5,7 bis 8,4 %"), ("−2.9 to +0.4 %", "−2,9 bis +0,4 %")]
)
def test_an_interval_keeps_its_unit_apart_from_its_numbers(english, german):
    with translation.override("de"):
        assert said(english) == german


def test_no_english_is_left_under_the_charts():
    document = assemble(make_fit(), make_context(), make_outcomes(), make_parts())
    with translation.override("de"):
        told = {chart: said(finding(document, chart)) for chart in CHARTS}
    assert {chart: text for chart, text in told.items() if ENGLISH.search(text)} == {}


def test_what_members_agree_to_is_said_in_german():
    with translation.override("de"):
        told = [after_its_word(paragraph) for paragraph in paragraphs()["switches"].values()]
        told += [said(paragraph) for paragraph in paragraphs()["all"]]
    assert [text for text in told if ENGLISH.search(text)] == []
    assert told[0].startswith("Ihre Tragezeiten werden aufbewahrt")
