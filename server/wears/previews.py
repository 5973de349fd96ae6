"""What a person's exports would become, shown to them before anything is kept. Nothing is stored and nothing logged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import msgspec
from msgspec import Struct
from msgspec.structs import replace as struct_with

from pooling.checks import find
from pooling.columns import PairColumns, columns_from, columns_of
from pooling.errors import FileInvalid, InvalidInput, RecordInvalid
from pooling.importing import ColumnMapping, Proposal, open_file, propose
from pooling.pairing import REASONS
from pooling.preparation import Answers, Export, Prepared, PreparedWear, draft_record, prepare
from pooling.record import WearRecord, header_of, record_from
from pooling.report import LicensedSite, wear_report
from pooling.vocabulary import capitalised
from server.accounts.models import Account, Wearer
from server.accounts.selectors import mapping_for_words, mappings_of
from server.core.alone import one_at_a_time
from server.core.decoding import converted, decoded
from server.core.errors import Fault, Invalid
from server.core.selectors import licensed_sites
from server.groups.rounds import require_kept
from server.wears.copies import OwnWears, bands_of
from server.wears.plans import believed
from server.wears.records import faults_beside_catalogue, faults_of, read_record

MOST_FILES: Final = 4


@dataclass(frozen=True, slots=True)
class File:
    """An export as it was sent; its `repr` shows nothing of it."""

    data: bytes = field(repr=False)
    filename: str = field(repr=False)


class OfExport(Struct, frozen=True, forbid_unknown_fields=True):
    """How one file is to be read, as far as the person has confirmed it."""

    mapping: ColumnMapping | None = None
    sheet: str | None = None


class Told(Struct, frozen=True, forbid_unknown_fields=True):
    """What came with the files: answers so far, and fields of the record that no file holds."""

    exports: tuple[OfExport, ...] = ()
    answers: dict[str, Any] = {}
    record: dict[str, Any] = {}


Content = dict[str, Any]


def preview_of_record(raw: bytes, *, account: Account, wearer: Wearer) -> Content:
    """What an upload of this record would say; it is refused for what the upload would refuse."""
    record = read_record(raw)
    require_kept(record, account=account)
    columns = columns_from(record)
    _, told = believed(record, account=account, wearer=wearer)
    copied = [*msgspec.to_builtins(told), *_copied(columns, record, account)]
    wear = {
        "label": "",
        "record": msgspec.to_builtins(record),
        "faults": [],
        "unmatched": [],
        "clocks": None,
        "findings": [*msgspec.to_builtins(find(columns, record)), *copied],
        "report": _report(record, columns, copied, wearer),
    }
    return {"complete": True, "exports": [], "questions": [], "wears": [wear]}


def preview_of_exports(files: Sequence[File], told: bytes, *, account: Account, wearer: Wearer) -> Content:
    """Columns, questions, pairs, and a report where the record is whole; remembered mappings are proposed first."""
    with one_at_a_time(account.pk):
        return _preview(files, told, account, wearer)


def _preview(files: Sequence[File], told: bytes, account: Account, wearer: Wearer) -> Content:
    request = decoded(told, Told, place="#/told")
    answers = _answers(request.answers)
    exports = _exports(files, request.exports)
    known = _remembered(exports, account)
    try:
        prepared = _prepared(
            [known[place].export if place in known else each for place, each in enumerate(exports)], answers
        )
    except Invalid:
        if not known:
            raise
        # What was right for earlier files of this layout is not for this one.
        known, prepared = {}, _prepared(exports, answers)
    return {
        "complete": prepared.is_complete,
        "exports": [_as_read(each, known.get(place)) for place, each in enumerate(prepared.proposals)],
        "questions": [{"export": asked.export} | msgspec.to_builtins(asked.question) for asked in prepared.questions],
        "wears": [_wear(wear, request.record, account, wearer) for wear in prepared.wears],
    }


# ---- what was sent ---------------------------------------------------------------------------------------------------


def _answers(content: Mapping[str, Any]) -> Answers:
    unknown = sorted(set(content) - set(Answers.__struct_fields__))
    if unknown:
        known = ", ".join(Answers.__struct_fields__)
        faults = [
            Fault(pointer=f"#/told/answers/{name}", message=f"There is no such answer; there are {known}.")
            for name in unknown
        ]
        raise Invalid("Nothing was done.", faults=faults)
    return converted(content, Answers, place="#/told/answers")


def _exports(files: Sequence[File], told: Sequence[OfExport]) -> list[Export]:
    if not 1 <= len(files) <= MOST_FILES:
        message = f"Send 1 to {MOST_FILES} files, each as a part named file."
        raise Invalid("Nothing was done.", faults=[Fault(pointer="#/file", message=message)])
    if len(told) > len(files):
        message = "There are more entries than files. Give one for each file, in their order."
        raise Invalid("Nothing was done.", faults=[Fault(pointer="#/told/exports", message=message)])
    of_each = (*told, *[OfExport()] * (len(files) - len(told)))
    return [Export(file.data, file.filename, one.mapping, one.sheet) for file, one in zip(files, of_each, strict=True)]


def _prepared(exports: Sequence[Export], answers: Answers) -> Prepared:
    try:
        return prepare(exports, answers)
    except FileInvalid as error:
        raise _refusal(f"#/file/{error.place}", error.reason) from None
    except InvalidInput as error:
        raise _refusal("#/told/answers", str(error)) from None


def _refusal(pointer: str, reason: str) -> Invalid:
    fault = Fault(pointer=pointer, message=f"{capitalised(reason)}.")
    return Invalid("The exports cannot be read so; nothing of them was kept.", faults=[fault])


# ---- what is remembered ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Known:
    """An export whose layout the account has confirmed before, and the rows to show of it."""

    export: Export
    preview: tuple[tuple[str, ...], ...] = field(repr=False)


def _remembered(exports: Sequence[Export], account: Account) -> dict[int, Known]:
    """By the place of the export; of what the client has confirmed itself, nothing."""
    if not mappings_of(account):
        return {}
    known = {place: _known(export, account) for place, export in enumerate(exports) if export.mapping is None}
    return {place: found for place, found in known.items() if found is not None}


def _known(export: Export, account: Account) -> Known | None:
    proposal = _proposal(export)
    if proposal is None:
        return None
    kept = mapping_for_words(account, proposal.mapping.header_hash_input)
    if kept is None or len(kept["roles"]) != len(proposal.mapping.roles):
        return None
    told = {name: value for name, value in kept.items() if value is not None}
    mapping = struct_with(proposal.mapping, **told | {"roles": tuple(kept["roles"])})
    return Known(replace(export, mapping=mapping), proposal.preview)


def _proposal(export: Export) -> Proposal | None:
    """What would be proposed without a memory; None where the file has to be asked about, or refused, first."""
    try:
        sheets = [one for one in open_file(export.data, filename=export.filename) if export.sheet in (None, one.name)]
        return propose(sheets[0]) if len(sheets) == 1 else None
    except InvalidInput:
        return None


# ---- the answer ------------------------------------------------------------------------------------------------------


def _as_read(proposal: Proposal | None, known: Known | None) -> Content | None:
    """How an export is read; None where it is not known yet which of its sheets is meant."""
    if proposal is None:
        return None
    return {
        "mapping": msgspec.to_builtins(proposal.mapping),
        "remembered": known is not None,
        "preview": known.preview if known else proposal.preview,
    }


def _wear(wear: PreparedWear, told: Mapping[str, Any], account: Account, wearer: Wearer) -> Content:
    draft = draft_record(wear, told)
    record, faults = _checked(draft)
    columns = columns_of(wear.pairs, wear.glucose_unit)
    copied = _copied(columns, record, account)
    return {
        "label": wear.label,
        "record": draft,
        "faults": faults,
        "unmatched": [{"line": one.line, "reason": one.reason, "says": REASONS[one.reason]} for one in wear.unmatched],
        "clocks": _clocks(wear),
        "findings": [*msgspec.to_builtins(wear.findings), *copied],
        "report": None if record is None else _report(record, columns, copied, wearer),
    }


def _checked(draft: Content) -> tuple[WearRecord | None, list[Fault]]:
    """The record, or everything for which an upload would refuse it."""
    try:
        record = record_from(draft)
    except RecordInvalid as error:
        return None, faults_of(error)
    unlisted = faults_beside_catalogue(record)
    return (None if unlisted else record), unlisted


def _clocks(wear: PreparedWear) -> Content | None:
    if wear.offset is None or wear.pairing is None:
        return None
    said = {"says": wear.offset.in_words(), "taken_off_min": wear.pairing.applied_offset_min}
    return msgspec.to_builtins(wear.offset) | said


def _copied(columns: PairColumns, record: WearRecord | None, account: Account) -> list[Content]:
    """The finding that an upload would make, if the account holds these readings already."""
    header = None if record is None else header_of(record)
    return msgspec.to_builtins(OwnWears(account).told_of(bands_of(columns), header))


def _report(record: WearRecord, columns: PairColumns, copied: Sequence[Content], wearer: Wearer) -> Content:
    licensed = [LicensedSite(site, ages) for site, ages in licensed_sites(record.sensor_model)]
    report = wear_report(columns, record, unit=record.glucose_unit, licensed=licensed, ages=wearer.age_class)
    return report | {"findings": [*report["findings"], *copied]}
