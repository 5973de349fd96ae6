"""The lag of 4.5 min, sd 4.8, is from the abstract of Diabetes Technol Ther 2015;17:787; the rest is simulation."""

import numpy as np
import pytest

from pooling.importing.types import Series
from pooling.pairing import pair
from pooling.pairing.clock import FEWEST_FINGERSTICKS, ClockOffset
from pooling.simulate.trace import draw_exports


def _offset(exports):
    return pair(exports.sensor, exports.meter, inserted=exports.inserted, ended=exports.ended).offset


@pytest.mark.parametrize("spacing_min", [1, 5, 15])
@pytest.mark.parametrize("offset_min", [-600, -45, 30, 60])
def test_an_offset_is_found_with_its_side_and_size(spacing_min, offset_min):
    found = _offset(draw_exports(np.random.default_rng(7), spacing_min=spacing_min, offset_min=offset_min))
    assert found.verdict == "differs"
    assert abs(found.minutes - offset_min) <= found.uncertainty_min <= 25


def test_a_clock_one_minute_further_off_is_told_one_minute_further_off():
    told = [_offset(draw_exports(np.random.default_rng(7), offset_min=float(off))).minutes for off in range(40, 48)]
    assert np.diff(told).tolist() == [1] * 7


def test_clocks_that_agree_are_nearly_never_said_to_differ():
    verdicts = [_offset(draw_exports(np.random.default_rng(seed))).verdict for seed in range(60)]
    assert "differs" not in verdicts
    assert verdicts.count("agree") >= 55


def test_the_range_holds_the_truth():
    offsets = np.random.default_rng(5).integers(-90, 90, 60)
    found = [_offset(draw_exports(np.random.default_rng(s), offset_min=float(o))) for s, o in enumerate(offsets)]
    told = [(one, truth) for one, truth in zip(found, offsets, strict=True) if one.minutes is not None]
    assert len(told) >= 50
    assert sum(abs(one.minutes - truth) <= one.uncertainty_min for one, truth in told) >= 0.95 * len(told)


def test_months_of_other_fingersticks_change_nothing():
    exports = draw_exports(np.random.default_rng(9), offset_min=45.0)
    other = draw_exports(np.random.default_rng(10), n_days=60, n_fingersticks=300).meter
    meter = Series(
        np.concatenate([other.time - np.timedelta64(90, "D"), exports.meter.time]),
        *(np.concatenate([getattr(other, name), getattr(exports.meter, name)]) for name in ("mg_dl", "mark", "line")),
    )
    both = pair(exports.sensor, meter, inserted=exports.inserted, ended=exports.ended).offset
    assert both == _offset(exports)


def test_few_fingersticks_are_unclear_and_say_so():
    found = _offset(draw_exports(np.random.default_rng(1), n_fingersticks=FEWEST_FINGERSTICKS - 4, offset_min=60))
    assert (found.verdict, found.minutes, found.uncertainty_min) == ("unclear", None, None)
    assert "do not tell" in found.in_words()


@pytest.mark.parametrize("seed", [13, 14])
def test_a_shift_that_is_better_by_chance_only_is_unclear(seed):
    """Twelve fingersticks whose best shift lies beyond what lag explains, and is little better than none."""
    exports = draw_exports(np.random.default_rng(seed), n_fingersticks=12, spacing_min=15)
    assert _offset(exports).verdict == "unclear"


def test_fingersticks_of_somebody_else_are_unclear():
    verdicts = []
    for seed in range(20):
        own, other = draw_exports(np.random.default_rng(seed)), draw_exports(np.random.default_rng(1000 + seed))
        mixed = pair(own.sensor, other.meter, inserted=own.inserted, ended=own.ended).offset
        verdicts.append(mixed.verdict)
    assert verdicts.count("unclear") >= 19


def test_steady_glucose_tells_nothing_about_clocks():
    exports = draw_exports(np.random.default_rng(3))
    flat = Series(
        exports.sensor.time, np.full_like(exports.sensor.mg_dl, 110.0), exports.sensor.mark, exports.sensor.line
    )
    assert pair(flat, exports.meter, inserted=exports.inserted, ended=exports.ended).offset.verdict == "unclear"


@pytest.mark.parametrize(
    ("offset", "words"),
    [
        (ClockOffset("differs", 60, 10, 40), "about 60 minutes ahead of the sensor's (give or take 10)"),
        (ClockOffset("differs", -30, 12, 40), "about 30 minutes behind the sensor's"),
        (ClockOffset("agree", 2, 10, 40), "agree as far as readings can tell (within 10 min)"),
    ],
)
def test_words_say_which_clock_is_ahead(offset, words):
    assert words in offset.in_words()
