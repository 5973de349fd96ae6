"""What goes into a preparation and what comes out of it."""

from dataclasses import dataclass, field
from datetime import datetime

from msgspec import Struct

from pooling.checks import Finding
from pooling.importing import ColumnMapping, Proposal, Question
from pooling.pairing import ClockOffset, Pairing, Unmatched
from pooling.record import Pair
from pooling.vocabulary import GlucoseUnit, MeterClass, Prompt


@dataclass(frozen=True, slots=True)
class Export:
    """A file as the person gave it.

    mapping : how its table is to be read, once confirmed; None lets it be proposed
    sheet : name of the table in a workbook with several
    """

    data: bytes = field(repr=False)
    filename: str = field(default="", repr=False)
    mapping: ColumnMapping | None = None
    sheet: str | None = field(default=None, repr=False)


class Answers(Struct, frozen=True, kw_only=True):
    """What the person has told so far; None is not told yet. Times are as the sensor's clock showed them.

    inserted, ended : of the wear; `further_inserted` of further wears in one typed table
    worn_min : instead of `ended`, where a table counts from the insertion
    apply_offset : whether the offset of the clocks that was shown is to be taken off
    prompt : why the fingersticks were taken, where the file does not say
    glucose_unit : of the record of trace and fingersticks; the meter's own unit if not told
    """

    inserted: datetime | None = None
    further_inserted: tuple[datetime, ...] = ()
    ended: datetime | None = None
    worn_min: int | None = None
    tolerance_min: int = 5
    interpolate: bool | None = None
    apply_offset: bool | None = None
    calibrated: bool = False
    meter_class: MeterClass = "unknown"
    prompt: Prompt | None = None
    glucose_unit: GlucoseUnit | None = None

    def __repr__(self) -> str:
        return "Answers(…)"


class Asked(Struct, frozen=True):
    """A question, and the place of the export that it is about (None: of all of them together)."""

    export: int | None
    question: Question

    def __repr__(self) -> str:
        return f"Asked({self.export}, {self.question.code!r})"


@dataclass(frozen=True, slots=True)
class PreparedWear:
    """One wear: pairs, what was left out and why, what the clocks say, what looks odd.

    label : as typed, or the number of the wear
    worn_min : None where a typed table does not say when the wear ended
    pairing : how trace and fingersticks went together; None for typed pairs
    """

    label: str = field(repr=False)
    site: str | None = field(repr=False)
    worn_min: int | None = field(repr=False)
    glucose_unit: str
    calibrated: bool
    meter_class: str
    pairs: tuple[Pair, ...] = field(repr=False)
    unmatched: tuple[Unmatched, ...] = field(repr=False)
    findings: tuple[Finding, ...] = field(repr=False)
    pairing: Pairing | None = None

    @property
    def offset(self) -> ClockOffset | None:
        """What the readings say of the two clocks."""
        return None if self.pairing is None else self.pairing.offset


@dataclass(frozen=True, slots=True)
class Prepared:
    """How each export would be read, what is still asked, and the wears so far.

    proposals : one an export, without a preview once its mapping is confirmed; None where a sheet is still to be chosen
    """

    proposals: tuple[Proposal | None, ...]
    questions: tuple[Asked, ...] = field(repr=False)
    wears: tuple[PreparedWear, ...]

    @property
    def is_complete(self) -> bool:
        """Whether there are wears, and nothing stands open that they depend on."""
        return bool(self.wears) and not any(asked.question.blocking for asked in self.questions)
