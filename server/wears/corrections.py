"""A tag of a record put right by its owner, who was asked: everything worked out from the record is worked out anew."""

import json
from typing import Final

from pooling.checks import find
from pooling.columns import columns_from, pack
from pooling.record import from_header, header_of
from server.core.errors import Conflict, Fault, Invalid
from server.groups.selectors import rules_in_force
from server.wears.copies import likeness_of
from server.wears.holdings import pairs_of
from server.wears.intake import UPLOAD_RULES, summary_of
from server.wears.models import Wear, WearPairs
from server.wears.plans import NOT_BELIEVED, RANDOMISED, told_again
from server.wears.records import read_record
from server.wears.selectors import columns_of

TAGS: Final = ("site", "side", "sensor_model", "glucose_unit", "end_reason")


def correct(wear: Wear, tag: str, value: str) -> None:
    """Write the record anew with this tag, as if it had been uploaded so: findings, summary and likeness follow.

    Raises
    ------
    Invalid
        If the tag is none that can be put right, says the same already, or makes a record with a fault.
    Conflict
        If the readings are gone, or the group's rules do not take the sensor model.
    """
    columns = columns_of(wear)
    if columns is None:
        raise Conflict("The readings of this wear have been erased on their date, so that it cannot be put right.")
    if tag not in TAGS or wear.header.get(tag) == value:
        raise _refusal("The record says so already. Answer confirmed if it is right.")
    content = {**wear.header, tag: value, "pairs": list(pairs_of(columns))}
    if tag == "site" and content["assignment"] == RANDOMISED:
        content["assignment"] = NOT_BELIEVED  # the lot that was believed fell on another site
    try:
        record = read_record(json.dumps(content).encode())
    except Invalid as refused:
        raise _refusal(refused.faults[0]["message"]) from None
    if wear.group is not None:
        rules_in_force(wear.group).require_taken(header_of(record))
    columns = columns_from(record)
    wear.header = header_of(record)
    told = told_again(wear.findings)
    wear.findings = [finding.code for finding in (*find(columns, from_header(wear.header)), *told)]
    wear.likeness = likeness_of(columns, wear_id=wear.id)
    wear.copied = None  # a worker looks
    wear.save(update_fields=["header", "findings", "likeness", "copied"])
    WearPairs.objects.filter(wear=wear).update(block=pack(columns))
    summary_of(wear, columns, UPLOAD_RULES).save(force_update=True)


def _refusal(message: str) -> Invalid:
    return Invalid(
        "With this the record cannot be right; nothing was changed.",
        faults=[Fault(pointer="#/value", message=message)],
    )
