"""The edition document: from a pooled fit to canonical bytes, sheets and rows. Figures leave the pool here only."""

from pooling.edition.assembly import assemble, note_nothing
from pooling.edition.document import (
    FORMAT,
    TABLES,
    canonical_bytes,
    contrast_row,
    place_of,
    read_document,
    sha256_hex,
    site_row,
    table_rows,
)
from pooling.edition.environment import environment_fingerprint
from pooling.edition.inputs import EditionContext, EmptyFit, SensorModelFacts
from pooling.edition.rows import BASIS_CHOICE, BASIS_TIED, HOW_SURE_RULE
from pooling.edition.sheet import table_csv

__all__ = [
    "BASIS_CHOICE",
    "BASIS_TIED",
    "FORMAT",
    "HOW_SURE_RULE",
    "TABLES",
    "EditionContext",
    "EmptyFit",
    "SensorModelFacts",
    "assemble",
    "canonical_bytes",
    "contrast_row",
    "environment_fingerprint",
    "note_nothing",
    "place_of",
    "read_document",
    "sha256_hex",
    "site_row",
    "table_csv",
    "table_rows",
]
