import json

import pytest

from server.core.errors import Invalid
from server.web import drafts
from tests.server.records import record


def test_drafts_come_back_as_they_were_held():
    held = (drafts.Draft("one", record()), drafts.Draft("two", {"pairs": []}))
    assert drafts.drafts_in(drafts.held(held)) == held


def test_more_than_can_be_brought_in_at_once_is_cut_off():
    many = json.dumps([{"record": {}}] * 80)
    assert len(drafts.drafts_in(many)) == drafts.MOST_DRAFTS


def test_what_did_not_come_back_whole_is_refused():
    with pytest.raises(Invalid):
        drafts.drafts_in("{")


def test_minutes_leave_the_page_as_coarse_as_they_are_kept():
    stored = drafts.as_stored({"pairs": [{"elapsed_min": 94}, {"elapsed_min": 95}, "no pair"]})
    assert stored["pairs"] == [{"elapsed_min": 90}, {"elapsed_min": 95}, "no pair"]


def test_everything_that_was_told_stands_in_words_and_what_was_not_does_not():
    told = dict(drafts.told(record(conditions={"prepared": ["cover_tape"], "near_insulin_site": False})))
    assert told["Worn for"] == "13 days, 21 h 20 min"
    assert told["Site"] == "front of the thigh"
    assert told["Done to the spot first"] == "cover tape"
    assert told["Closer to an insulin site than the instructions allow"] == "no"
    assert told["Easy to place"] == "8 of 10, rated by the wearer"
    assert "Pinch of skin" not in told
    assert "Site" not in dict(drafts.told({}))


def test_pairs_stand_in_words():
    (line, marked) = drafts.pair_lines(
        {
            "pairs": [
                record()["pairs"][0],
                {"elapsed_min": 1500, "reference": 4.2, "sensor": None, "sensor_mark": "below", "prompt": "doubt"},
            ]
        }
    )
    assert (line.at, line.more) == ("day 1, after 1 h 00 min", "4 min apart; moving +0.5 mg/dL a minute")
    assert (marked.at, marked.reference, marked.sensor) == (
        "day 2, after 1 h 00 min",
        "4.2",
        "below the sensor's range",
    )
