"""A planned block of wear summaries becomes sums over at least k people; nothing else of it is kept for the pool."""

from pooling.sealing.records import (
    Cell,
    SealedBlock,
    SealedBundle,
    SealedOverlap,
    SealedRecord,
    SealedRecords,
    SealedTie,
    record_from_payload,
)
from pooling.sealing.slot import Place, SlotSeal, seal_slot
from pooling.sealing.unit import Member
from pooling.sealing.version import CHANNELS, FEWEST_PAIRS, SEAL_VERSION_1, VERSIONS, SealVersion
from pooling.sealing.wear import has_accuracy

__all__ = [
    "CHANNELS",
    "FEWEST_PAIRS",
    "SEAL_VERSION_1",
    "VERSIONS",
    "Cell",
    "Member",
    "Place",
    "SealVersion",
    "SealedBlock",
    "SealedBundle",
    "SealedOverlap",
    "SealedRecord",
    "SealedRecords",
    "SealedTie",
    "SlotSeal",
    "has_accuracy",
    "record_from_payload",
    "seal_slot",
]
