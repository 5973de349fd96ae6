"""Who may be added up together: plans only. Identifiers go in, groups of identifiers come out."""

from pooling.ledger.parts import PlannedParts, plan_parts
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
    "Level",
    "Plan",
    "PlannedBlock",
    "PlannedParts",
    "PlannedTie",
    "Waiting",
    "end_bucket",
    "plan",
    "plan_parts",
    "plan_ties",
    "uncovered",
]
