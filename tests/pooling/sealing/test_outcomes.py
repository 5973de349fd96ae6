from dataclasses import dataclass, field

import numpy as np
import pytest

from pooling.errors import InvalidInput
from pooling.sealing import FAMILIES, SEAL_VERSION_1, Cell, Member, has_value, seal_slot
from pooling.sealing.outcomes import OFF, values_of
from pooling.sealing.records import BLOCK_SUMS, record_from_payload
from pooling.summary import RatingsGiven
from pooling.vocabulary import END_REASONS
from tests.calibration.pools import Stratum

FREE = SEAL_VERSION_1.unmasked(number=99, grid_bits=60)
CALF = Cell("everyone", "calf", "demo-a14")


@dataclass(frozen=True)
class Summary:
    worn_min: int = 14 * 1440
    end_reason: str = "completed"
    skin_grade: int | None = None
    ratings: RatingsGiven = field(default_factory=RatingsGiven)
    strata: dict[str, Stratum] = field(default_factory=dict)
    zones: tuple[int, ...] = (0, 0, 0, 0, 0)


def values(summary, family, *, rated_life_days=14):
    found = values_of([summary], family, FREE, lives_days=np.array([rated_life_days]))
    return {
        channel: round(value + FREE.channels[channel].reference, 12)
        for channel, (value,), (held,) in zip(FAMILIES[family], found.value, found.held, strict=True)
        if held
    }


def test_a_sensor_that_lasts_is_on_at_every_day():
    assert values(Summary(), "survival") == {
        "on3": 1, "on7": 1, "on10": 1, "on14": 1, "on_rated": 1, "off_adhesive": 0, "off_device": 0, "off_body": 0,
        "off_other": 0,
    }  # fmt: skip


def test_one_that_falls_off_on_day_8_was_on_at_7_and_counts_as_that_kind_of_end():
    found = values(Summary(worn_min=8 * 1440 - 1, end_reason="fell_off"), "survival")
    assert (found["on7"], found["on10"], found["on_rated"]) == (1, 0, 0)
    assert (found["off_adhesive"], found["off_device"], found["off_body"]) == (1, 0, 0)


def test_days_beyond_a_sensors_rated_life_are_not_asked():
    assert "on14" not in values(Summary(worn_min=10 * 1440), "survival", rated_life_days=10)
    assert values(Summary(worn_min=10 * 1440), "survival", rated_life_days=10)["on10"] == 1


def test_a_sensor_that_ended_as_meant_a_few_minutes_early_was_on_at_its_rated_life():
    found = values(Summary(worn_min=14 * 1440 - 30), "survival")
    assert (found["on14"], found["on_rated"]) == (1, 1)
    assert values(Summary(worn_min=14 * 1440 - 30, end_reason="fell_off"), "survival")["on_rated"] == 0


@pytest.mark.parametrize("reason", END_REASONS)
def test_every_early_end_is_of_one_kind_at_most(reason):
    found = values(Summary(worn_min=1440, end_reason=reason), "survival")
    assert sum(found[channel] for channel in OFF) == (reason in {r for kind in OFF.values() for r in kind})
    assert found["on3"] == (reason == "completed")


@pytest.mark.parametrize(("grade", "reacted"), [(0, 0), (1, 0), (2, 1), (3, 1), (4, 1)])
def test_a_reaction_is_grade_2_and_above(grade, reacted):
    assert values(Summary(skin_grade=grade), "skin") == {"reaction": reacted}


def test_who_has_a_value():
    silent = Summary(strata={"all": Stratum(0, 0, 0, 0, 0, 0, 0, 0)})
    assert [family for family in FAMILIES if has_value(silent, family)] == ["survival"]
    told = Summary(skin_grade=0, ratings=RatingsGiven(ease=0), strata=silent.strata)
    assert [family for family in FAMILIES if has_value(told, family)] == ["survival", "skin", "ease"]


def block(summaries, family, *, rated_life_days=14):
    members = [Member(f"p{i}", f"a{i}", summary, rated_life_days if i else 14) for i, summary in enumerate(summaries)]
    sealed = seal_slot([(CALF, members)], open_places=(), end_bucket=4, version=FREE, key=b"slot", k=5, family=family)
    return sealed.blocks[0]


def mean(record, channel):
    sums = dict(zip(BLOCK_SUMS, record.sums[channel], strict=True))
    return sums["first"] / sums["weight"] + FREE.channels[channel].reference


def test_sums_of_a_family_are_means_of_its_values():
    record = block(
        [Summary(worn_min=day * 1440, end_reason="fell_off") for day in (2, 5, 8, 11)] + [Summary()], "survival"
    )
    assert record.family == "survival"
    assert [round(mean(record, f"on{day}"), 9) for day in (3, 7, 10, 14)] == [0.8, 0.6, 0.4, 0.2]
    assert record_from_payload(record.to_payload()) == record
    ratings = block([Summary(ratings=RatingsGiven(comfort=rating)) for rating in (4, 5, 6, 7, 8)], "comfort")
    assert mean(ratings, "comfort") == pytest.approx(6)


def test_a_day_that_some_sensors_are_not_made_for_is_left_out_of_the_block():
    record = block([Summary(worn_min=10 * 1440)] * 5, "survival", rated_life_days=10)
    assert "on14" not in record.sums
    assert "on10" in record.sums


def test_records_of_two_families_do_not_add_up():
    both = [block([Summary(skin_grade=1, ratings=RatingsGiven(ease=5))] * 5, family) for family in ("skin", "ease")]
    with pytest.raises(InvalidInput, match="add up"):
        both[0] + both[1]


def test_a_wear_without_a_value_is_refused():
    with pytest.raises(InvalidInput, match="no value for skin"):
        block([Summary()] * 5, "skin")
