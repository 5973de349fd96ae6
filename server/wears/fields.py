"""What wears store, and why."""

from server.core.register import DataClass, Field

UNTIL_ERASED = "until the wear is erased, taken back after it was counted, or the account is closed"
UNTIL_THE_DATE = "12 whole months after upload; at once with the wear"
WHILE_WAITING = "until the wear is counted there, taken back or erased"
OWNER = "the owner"
OWNER_AND_MODERATORS = "the owner; moderators of the group it is given to, without a name"

FIELDS = {
    "Wear.id": Field("names the wear, random", OWNER_AND_MODERATORS, UNTIL_ERASED, DataClass.IDENTIFYING),
    "Wear.state": Field("where it stands", "moderators, the cut-off", UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.previous_state": Field("lets the database check each step", "the service", UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.shown_state": Field("the state as of the last edition date", OWNER, UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.group": Field("whom it is given to", OWNER_AND_MODERATORS, UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.header": Field("the record without its pairs", OWNER_AND_MODERATORS, UNTIL_ERASED, DataClass.HEALTH),
    "Wear.findings": Field("codes of what looks odd", OWNER_AND_MODERATORS, UNTIL_ERASED, DataClass.HEALTH),
    "Wear.likeness": Field("knows a copy again; encrypted", "the cut-off, workers", UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.copied": Field("a copy was given too", "moderators, as a remark", UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.released": Field("whether moderators may look", "the service", UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.appealed": Field("to be looked at again", OWNER_AND_MODERATORS, UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.uploaded_month": Field("sets the date of erasure", OWNER, UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.first_end_bucket": Field("when the first of them end", "the cut-off", UNTIL_ERASED, DataClass.INTERNAL),
    "Wear.end_bucket": Field("when sums that count it end, shared by many", OWNER, UNTIL_ERASED, DataClass.INTERNAL),
    "Awaited.id": Field("names the row, random", "the cut-off", WHILE_WAITING, DataClass.INTERNAL),
    "Awaited.wear": Field("which wear waits", "the cut-off", WHILE_WAITING, DataClass.INTERNAL),
    "Awaited.family": Field("for which outcomes", "the cut-off", WHILE_WAITING, DataClass.INTERNAL),
    "Awaited.since_slot": Field("how many editions it has waited", "the cut-off", WHILE_WAITING, DataClass.INTERNAL),
    "WearPairs.wear": Field("whose readings they are", OWNER, UNTIL_THE_DATE, DataClass.INTERNAL),
    "WearPairs.block": Field("the readings, for report and summary", OWNER, UNTIL_THE_DATE, DataClass.HEALTH),
    "WearPairs.erase_on": Field("when they are erased", "sweep", UNTIL_THE_DATE, DataClass.INTERNAL),
    "WearSummary.wear": Field("whose statistics they are", "the cut-off", UNTIL_ERASED, DataClass.INTERNAL),
    "WearSummary.protocol_version": Field("rules it was made under", "the cut-off", UNTIL_ERASED, DataClass.INTERNAL),
    "WearSummary.everyone_version": Field("rules it was made under", "the cut-off", UNTIL_ERASED, DataClass.INTERNAL),
    "WearSummary.n_pairs": Field("whether there are enough pairs", "the cut-off", UNTIL_ERASED, DataClass.HEALTH),
    "WearSummary.payload": Field("what is summed at the cut-off", "the cut-off", UNTIL_ERASED, DataClass.HEALTH),
}
