from pooling.hierarchy.rules import FAMILY_OF, FitRules
from pooling.sealing import SEAL_VERSION_1


def test_every_channel_has_a_prior_scale_near_the_frozen_spreads():
    """A prior far from the constants that weights are made of would contradict them: within a factor of ten."""
    rules = FitRules()
    for channel in FAMILY_OF:
        frozen = SEAL_VERSION_1.channels[channel]
        level = frozen.reference if channel == "direct" else 1.0
        ratio = rules.prior_scales[channel] * level / frozen.person_variance**0.5
        assert 0.1 < ratio < 10


def test_rules_demand_a_hundred_effective_draws_and_know_version_1():
    rules = FitRules()
    assert rules.fewest_effective >= 100
    assert rules.versions[1] is SEAL_VERSION_1
