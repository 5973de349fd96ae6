"""Who may be added up together: plans only. Identifiers go in, groups of identifiers come out."""

from pooling.ledger.lots import Picked, plan_lots
from pooling.ledger.parts import Crossing, PlannedParts, bundles_to_try, plan_parts
from pooling.ledger.plan import (
    ANY_MODEL,
    EDITIONS_BETWEEN_ENDS,
    EVERYONE,
    FEWEST_EDITIONS_COUNTED,
    FEWEST_PEOPLE,
    LEVELS,
    OPEN_WEARS_CAP,
    OTHER_SITES,
    CellKey,
    Level,
    Plan,
    PlannedBlock,
    Waiting,
    end_bucket,
    plan,
    ways_in,
)
from pooling.ledger.ties import PlannedTie, plan_ties, uncovered

__all__ = [
    "ANY_MODEL",
    "EDITIONS_BETWEEN_ENDS",
    "EVERYONE",
    "FEWEST_EDITIONS_COUNTED",
    "FEWEST_PEOPLE",
    "LEVELS",
    "OPEN_WEARS_CAP",
    "OTHER_SITES",
    "CellKey",
    "Crossing",
    "Level",
    "Picked",
    "Plan",
    "PlannedBlock",
    "PlannedParts",
    "PlannedTie",
    "Waiting",
    "bundles_to_try",
    "end_bucket",
    "plan",
    "plan_lots",
    "plan_parts",
    "plan_ties",
    "uncovered",
    "ways_in",
]
