"""A planned block of wear summaries becomes sums over at least k people; nothing else of it is kept for the pool."""

from pooling.sealing.outcomes import has_value
from pooling.sealing.parts import SealedParts
from pooling.sealing.places import Place
from pooling.sealing.record import Cell
from pooling.sealing.records import (
    SealedBlock,
    SealedBundle,
    SealedOverlap,
    SealedRecord,
    SealedRecords,
    SealedTie,
    record_from_payload,
)
from pooling.sealing.slot import SlotSeal, seal_slot
from pooling.sealing.unit import Member
from pooling.sealing.version import (
    CHANNELS,
    CURRENT,
    FAMILIES,
    FEWEST_PAIRS,
    FEWEST_PEOPLE,
    SEAL_VERSION_1,
    VERSIONS,
    SealVersion,
)

__all__ = [
    "CHANNELS",
    "CURRENT",
    "FAMILIES",
    "FEWEST_PAIRS",
    "FEWEST_PEOPLE",
    "SEAL_VERSION_1",
    "VERSIONS",
    "Cell",
    "Member",
    "Place",
    "SealVersion",
    "SealedBlock",
    "SealedBundle",
    "SealedOverlap",
    "SealedParts",
    "SealedRecord",
    "SealedRecords",
    "SealedTie",
    "SlotSeal",
    "has_value",
    "record_from_payload",
    "seal_slot",
]
