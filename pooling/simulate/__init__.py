"""Invented communities with known truth, for the demo, for tests and for checking what the pool claims."""

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
from pooling.simulate.trace import InventedExports, draw_exports

__all__ = [
    "DEMO_GROUPS",
    "DEMO_MODELS",
    "DEMO_SITES",
    "CellTruth",
    "Community",
    "GroupPlan",
    "InventedExports",
    "Law",
    "Person",
    "SensorModelPlan",
    "SimulatedWear",
    "Truth",
    "draw_exports",
    "draw_law",
    "simulate_community",
    "single_wear",
]
