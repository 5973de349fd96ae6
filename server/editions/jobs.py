"""The kinds of work that this app leaves to workers."""

from enum import StrEnum


class JobKind(StrEnum):
    FIT_PART = "editions.fit_part"
    ASSEMBLE_DRAFT = "editions.assemble_draft"
