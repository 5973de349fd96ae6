import pytest

from pooling.errors import InvalidInput
from pooling.pairing import PairingRules
from pooling.record import WIDEST_GAP_MIN


@pytest.mark.parametrize("tolerance_min", [0, -5, WIDEST_GAP_MIN + 1])
def test_a_tolerance_beyond_what_a_record_holds_is_refused(tolerance_min):
    with pytest.raises(InvalidInput, match=f"1 and {WIDEST_GAP_MIN}"):
        PairingRules(tolerance_min=tolerance_min).checked()


def test_interpolation_cannot_do_without_later_readings():
    with pytest.raises(InvalidInput, match="after the fingerstick"):
        PairingRules(interpolate=True, before_only=True).checked()


def test_rules_that_hold_come_back():
    rules = PairingRules(tolerance_min=WIDEST_GAP_MIN, interpolate=True)
    assert rules.checked() is rules
