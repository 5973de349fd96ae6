"""Rules of dominance: worked examples of the Handbook on Statistical Disclosure Control, 2nd ed., ch. 4.2."""

import pytest

from pooling.audit.concentration import P_PCT, p_pct_of_dominance, protected_by_p_pct


class TestHandbook:
    def test_a_second_contributor_that_dominance_of_one_does_not_see(self):
        """100,000 with 50,000 and 49,000 in it: the second knows the first to within 1,000."""
        assert not protected_by_p_pct([50_000, 49_000, *[100] * 10], p_pct=10)

    def test_dominance_of_two_refuses_what_the_p_rule_lets_pass(self):
        """110,000 with 52,000 and 50,000 in it."""
        assert protected_by_p_pct([52_000, 50_000, 8_000], p_pct=10)

    @pytest.mark.parametrize(("share_pct", "p_pct"), [(80, 25), (95, 5.26)])
    def test_the_two_rules_beside_each_other(self, share_pct, p_pct):
        assert p_pct_of_dominance(share_pct) == pytest.approx(p_pct, abs=0.005)

    def test_the_rule_in_use_is_the_stricter_of_the_two(self):
        assert P_PCT == 25


def test_the_edges_belong_to_the_safe_side():
    assert protected_by_p_pct([4, 4, 1], p_pct=25)
    assert not protected_by_p_pct([4, 4, 0.999], p_pct=25)
