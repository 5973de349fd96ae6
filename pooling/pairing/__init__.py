"""Fingersticks and the sensor readings beside them, put together from two instruments' exports. All in memory."""

from pooling.pairing.clock import ClockOffset
from pooling.pairing.rules import REASONS, PairingRules
from pooling.pairing.wear import Pairing, Unmatched, pair

__all__ = ["REASONS", "ClockOffset", "Pairing", "PairingRules", "Unmatched", "pair"]
