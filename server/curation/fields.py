"""What curation stores, and why."""

from server.core.register import DataClass, Field

KEPT = "as long as the group; a decision is never changed"
MODERATORS = "the group's moderators"
LOOKS_KEPT = "12 months; never changed before"

FIELDS = {
    "Decision.id": Field("row number, random", "the service", KEPT, DataClass.INTERNAL),
    "Decision.group": Field("whose decision it is", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.number": Field("order of the decisions", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.wear_mark": Field("the same wear is the same mark; keyed", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.action": Field("approved, left out, asked, appealed and so on", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.closes": Field("which sums were ended early", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.figures": Field("which edition was published or taken back", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.code": Field("the reason, question or answer, from a list", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.moderator_mark": Field("one moderator is one mark; keyed", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.protocol_version": Field("which rules were followed", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.on_month": Field("when, to the month", MODERATORS, KEPT, DataClass.INTERNAL),
    "Decision.chain_hash": Field("shows a later change", MODERATORS, KEPT, DataClass.INTERNAL),
    "Look.id": Field("row number, random", "the service", LOOKS_KEPT, DataClass.INTERNAL),
    "Look.moderator_mark": Field("who looked; keyed", "the operator", LOOKS_KEPT, DataClass.INTERNAL),
    "Look.wear_mark": Field("how many looked; keyed", "the operator; owners, a count", LOOKS_KEPT, DataClass.INTERNAL),
    "Look.on_day": Field("how many looks a day", "the operator", LOOKS_KEPT, DataClass.INTERNAL),
    "ReleaseDay.on": Field("batches are released once a week", "the service", "one week", DataClass.INTERNAL),
    "Told.group": Field("whose record it is", "the service", KEPT, DataClass.INTERNAL),
    "Told.number": Field("owners see outcomes as of an edition date", "the service", KEPT, DataClass.INTERNAL),
}
