"""Exports of any layout → tables of text cells → readings of one instrument, or typed pairs.

`open_file` reads text and spreadsheets, `propose` says what each column seems to be and asks what it cannot know,
`read_series` and `read_typed` read a table under the mapping that was proposed or put right.
"""

from pooling.importing.opening import open_file
from pooling.importing.proposal import propose
from pooling.importing.remarks import remarks
from pooling.importing.series import kinds_of, read_series
from pooling.importing.typed import read_typed, start_asked
from pooling.importing.types import (
    ROLES,
    ColumnMapping,
    Kind,
    Proposal,
    Question,
    Series,
    Sheet,
    TypedWear,
)

__all__ = [
    "ROLES",
    "ColumnMapping",
    "Kind",
    "Proposal",
    "Question",
    "Series",
    "Sheet",
    "TypedWear",
    "kinds_of",
    "open_file",
    "propose",
    "read_series",
    "read_typed",
    "remarks",
    "start_asked",
]
