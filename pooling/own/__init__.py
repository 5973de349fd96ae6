"""What one person can expect of a new wear: own wears and the pool's published figures together."""

from pooling.own.estimate import OwnWear, predict
from pooling.own.expectation import Expectation, Expected, Share, expectation
from pooling.own.prior import Prior, prior_of

__all__ = ["Expectation", "Expected", "OwnWear", "Prior", "Share", "expectation", "predict", "prior_of"]
