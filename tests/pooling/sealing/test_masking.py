"""Masking noise: normal, alike as people's values are, the same for the same key and name."""

import numpy as np
import pytest
from scipy.stats import kstest

from pooling.sealing import FAMILIES, SEAL_VERSION_1
from pooling.sealing.masking import Masks, likeness

ACCURACY = Masks(b"slot", SEAL_VERSION_1, "accuracy")


def test_deviates_are_normal():
    """Against the normal law of scipy.stats."""
    drawn = [ACCURACY.draw("a", str(i))["location"] for i in range(2000)]
    assert kstest(drawn, "norm").pvalue > 0.01


def test_channels_are_alike_as_stated():
    drawn = np.array([list(ACCURACY.draw("a", str(i)).values()) for i in range(4000)])
    np.testing.assert_allclose(np.corrcoef(drawn.T), likeness(SEAL_VERSION_1, "accuracy"), atol=0.06)


@pytest.mark.parametrize("family", FAMILIES)
def test_likenesses_are_those_of_some_law(family):
    assert np.linalg.eigvalsh(likeness(SEAL_VERSION_1, family)).min() > 0.05


def test_key_name_and_family_decide_and_nothing_else():
    assert ACCURACY.draw("a", "b") == Masks(b"slot", SEAL_VERSION_1, "accuracy").draw("a", "b")
    others = (
        Masks(b"another", SEAL_VERSION_1, "accuracy").draw("a", "b"),
        ACCURACY.draw("b", "a"),
        Masks(b"slot", SEAL_VERSION_1, "survival").draw("a", "b"),
    )
    assert len({next(iter(own.values())) for own in (ACCURACY.draw("a", "b"), *others)}) == 4


def test_the_last_day_of_a_life_is_masked_as_the_rated_life_is():
    """They are one number under two names: two deviates would tell it twice."""
    masks = Masks(b"slot", SEAL_VERSION_1, "survival")
    alike, mixed = masks.draw_for({10}, "block"), masks.draw_for({10, 14}, "block")
    assert alike["on10"] == alike["on_rated"] == mixed["on_rated"] != mixed["on10"]
    assert alike["on7"] == mixed["on7"]
