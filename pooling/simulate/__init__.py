"""Invented communities with known truth, for the demo, for tests and for checking what the pool claims.

A single wear as two instruments export it is `pooling.simulate.trace`.
"""

from pooling.simulate.community import (
    DEMO_GROUPS,
    DEMO_MODELS,
    DEMO_SITES,
    Community,
    GroupPlan,
    Person,
    SimulatedWear,
    Truth,
    simulate_community,
    single_wear,
)
from pooling.simulate.law import CellTruth, Law, SensorModelPlan, draw_law

__all__ = [
    "DEMO_GROUPS",
    "DEMO_MODELS",
    "DEMO_SITES",
    "CellTruth",
    "Community",
    "GroupPlan",
    "Law",
    "Person",
    "SensorModelPlan",
    "SimulatedWear",
    "Truth",
    "draw_law",
    "simulate_community",
    "single_wear",
]
