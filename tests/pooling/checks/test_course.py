"""How fast glucose moves at most is common practice, from no published source."""

from tests.pooling.checks.wears import codes, found, wear


def test_a_rate_beyond_what_a_body_can_follow_is_found():
    content = wear()
    content["pairs"][5] |= {"rate_mg_dl_min": -12.5}
    (finding,) = found(content)
    assert (finding.code, finding.severity) == ("impossible_rates", "look")
    assert "1 rate of change" in finding.seen


def _two(minutes_apart, first, second):
    content = wear()
    one = content["pairs"][-1] | {"reference": first, "sensor": first + 3, "elapsed_min": content["worn_min"] - 100}
    other = one | {"reference": second, "sensor": second - 2, "elapsed_min": one["elapsed_min"] + minutes_apart}
    content["pairs"] = [pair for pair in content["pairs"] if pair["elapsed_min"] < one["elapsed_min"] - 60]
    content["pairs"] += [one, other]
    return codes(content)


def test_fingersticks_too_far_apart_for_their_time_are_found():
    assert "impossible_rates" in _two(10, 90, 280)
    assert "impossible_rates" not in _two(10, 90, 140)
    assert "impossible_rates" not in _two(60, 90, 280)
    # Minutes are kept in steps of five: five may have been nearly ten.
    assert "impossible_rates" not in _two(5, 80, 150)
    assert "impossible_rates" in _two(5, 80, 180)


def test_a_short_low_that_the_fingerstick_does_not_show_is_a_note():
    content = wear()
    content["pairs"][20] |= {"reference": 120, "sensor": 41}
    (finding,) = found(content)
    assert (finding.code, finding.severity) == ("pressure_lows", "note")
    content["pairs"][20] |= {"reference": 120, "sensor": None, "sensor_mark": "below"}
    assert codes(content) == ["pressure_lows"]


def test_a_low_that_both_show_is_none_of_that():
    content = wear()
    content["pairs"][20] |= {"reference": 52, "sensor": 41}
    assert codes(content) == []


def test_a_sensor_that_stays_low_was_not_pressed():
    content = wear()
    for pair in content["pairs"][20:23]:
        pair |= {"reference": 120, "sensor": 41}
    assert "pressure_lows" not in codes(content)
