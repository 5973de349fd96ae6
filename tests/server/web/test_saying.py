"""What comes from below is said in the reader's language; what nobody has words for stays as it came."""

import pytest
from django.utils import translation

from server.web import saying
from server.web.saying import Lexicon, group_name, localised, said

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
