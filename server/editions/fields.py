"""What editions store, and why."""

from server.core.register import DataClass, Field

FOR_GOOD = "for good"
UNTIL_THE_END = "19 to 24 editions after the cut-off that sealed it"
UNTIL_NEXT = "until the next cut-off, which does it"
UNTIL_DRAFT_ENDS = "until the draft is published, refused or discarded"
UNTIL_TAKEN_OFF = "until moderators take it off"
FIT = "the fit"
AUDITOR = "the auditor"
MODERATORS = "moderators of the group"
READERS = "whoever may read the group"

FIELDS = {
    "Slot.number": Field("which cut-off", "everybody", FOR_GOOD, DataClass.PUBLIC),
    "Slot.cut_off": Field("its date", "everybody", FOR_GOOD, DataClass.PUBLIC),
    "SealedRecord.id": Field("names the sums, random", AUDITOR, FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.family": Field("which outcome is summed", FIT, FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.kind": Field("what kind of sums", f"{FIT}, {AUDITOR}", FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.scope": Field("whose figures rest on it", FIT, FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.place": Field("where on the body", f"{FIT}, caps", FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.sensor_model": Field("which sensor model", f"{FIT}, caps", FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.end_bucket": Field("the cut-off that ends it", "the cut-off", FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.seal_version": Field("constants it was made with", FIT, FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.k": Field("how few people it may speak of", AUDITOR, FOR_GOOD, DataClass.INTERNAL),
    "SealedRecord.payload": Field("sums over at least k people", FIT, UNTIL_THE_END, DataClass.HEALTH),
    "Closing.id": Field("names the row, random", "the cut-off", UNTIL_NEXT, DataClass.INTERNAL),
    "Closing.scope": Field("whose figures lose the sums", MODERATORS, UNTIL_NEXT, DataClass.INTERNAL),
    "Closing.site": Field("what ends: which site", MODERATORS, UNTIL_NEXT, DataClass.INTERNAL),
    "Closing.sensor_model": Field("what ends: which sensor model", MODERATORS, UNTIL_NEXT, DataClass.INTERNAL),
    "Closing.end_bucket": Field("what ends: of which end", MODERATORS, UNTIL_NEXT, DataClass.INTERNAL),
    "Closing.families": Field("what ends: for which outcomes", MODERATORS, UNTIL_NEXT, DataClass.INTERNAL),
    "Place.label": Field("names the place, random", f"caps, overlaps, {AUDITOR}", FOR_GOOD, DataClass.INTERNAL),
    "Place.record": Field("the sums it is in", f"caps, overlaps, {AUDITOR}", FOR_GOOD, DataClass.HEALTH),
    "Place.n_wears": Field("counts towards the cap", "caps", UNTIL_THE_END, DataClass.INTERNAL),
    "Place.q1": Field("weight of its wearer in the sums", "overlaps", UNTIL_THE_END, DataClass.INTERNAL),
    "Place.q2": Field("weight of its wearer in ties", "ties", UNTIL_THE_END, DataClass.INTERNAL),
    "TieSeat.id": Field("names the seat, random", AUDITOR, FOR_GOOD, DataClass.INTERNAL),
    "TieSeat.record": Field("the tie", AUDITOR, FOR_GOOD, DataClass.INTERNAL),
    "TieSeat.place": Field("a place whose value the tie holds again", AUDITOR, FOR_GOOD, DataClass.HEALTH),
    "TieSeat.linker": Field("joins one linker's places in one tie, random", AUDITOR, FOR_GOOD, DataClass.HEALTH),
    "SpentMarks.id": Field("row number, random", "the service", FOR_GOOD, DataClass.INTERNAL),
    "SpentMarks.key_version": Field("which keys made the marks", "operator", FOR_GOOD, DataClass.INTERNAL),
    "SpentMarks.first_byte": Field("where a mark is looked for", "the cut-off", FOR_GOOD, DataClass.INTERNAL),
    "SpentMarks.numbers": Field("know counted wears and copies; keyed", "the cut-off", FOR_GOOD, DataClass.INTERNAL),
    "Draft.id": Field("names the draft, random", MODERATORS, FOR_GOOD, DataClass.INTERNAL),
    "Draft.group": Field("whose draft it is", MODERATORS, FOR_GOOD, DataClass.INTERNAL),
    "Draft.slot": Field("which edition it is for", MODERATORS, FOR_GOOD, DataClass.INTERNAL),
    "Draft.state": Field("how far it is", MODERATORS, FOR_GOOD, DataClass.INTERNAL),
    "Draft.document": Field("what would be published", MODERATORS, UNTIL_DRAFT_ENDS, DataClass.INTERNAL),
    "Draft.certificate": Field("what the auditor states of it", MODERATORS, UNTIL_DRAFT_ENDS, DataClass.INTERNAL),
    "Draft.diagnosis": Field("how far its fit can be believed", MODERATORS, UNTIL_DRAFT_ENDS, DataClass.INTERNAL),
    "Draft.proposer_mark": Field(
        "whom somebody else must confirm", "the service", UNTIL_DRAFT_ENDS, DataClass.INTERNAL
    ),
    "Draft.rests_on": Field("what its figures are made of, for the auditor", AUDITOR, FOR_GOOD, DataClass.INTERNAL),
    "Draft.reasons": Field("why it was refused", MODERATORS, FOR_GOOD, DataClass.INTERNAL),
    "FitPart.id": Field("names the part, random", "workers", UNTIL_DRAFT_ENDS, DataClass.INTERNAL),
    "FitPart.draft": Field("the draft it belongs to", "workers", UNTIL_DRAFT_ENDS, DataClass.INTERNAL),
    "FitPart.channel": Field("which channel is fitted", MODERATORS, UNTIL_DRAFT_ENDS, DataClass.INTERNAL),
    "FitPart.state": Field("whether it is done", MODERATORS, UNTIL_DRAFT_ENDS, DataClass.INTERNAL),
    "FitPart.payload": Field("the fitted channel", "workers", UNTIL_DRAFT_ENDS, DataClass.HEALTH),
    "Edition.id": Field("names the row, random", "the service", FOR_GOOD, DataClass.INTERNAL),
    "Edition.group": Field("whose edition it is", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Edition.slot": Field("its number", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Edition.document": Field("the edition itself", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Edition.certificate": Field("what the auditor states of it", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Edition.signature": Field("who answers for its bytes", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Edition.rests_on": Field("what its figures are made of, for the auditor", AUDITOR, FOR_GOOD, DataClass.INTERNAL),
    "Edition.sha256": Field("its identity", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Edition.published_month": Field("when it came out", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Retraction.id": Field("names the row, random", "the service", FOR_GOOD, DataClass.INTERNAL),
    "Retraction.edition": Field("what was taken back", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Retraction.reason": Field("why, of a list", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Retraction.proposer_mark": Field(
        "whom somebody else must confirm", "the service", "until it is confirmed or withdrawn", DataClass.INTERNAL
    ),
    "Retraction.retracted_month": Field("when; empty while only proposed", READERS, FOR_GOOD, DataClass.PUBLIC),
    "Neighbour.id": Field("names the row, random", READERS, UNTIL_TAKEN_OFF, DataClass.PUBLIC),
    "Neighbour.group": Field("beside whose figures it stands", READERS, UNTIL_TAKEN_OFF, DataClass.PUBLIC),
    "Neighbour.address": Field("where it is said to come from", READERS, UNTIL_TAKEN_OFF, DataClass.PUBLIC),
    "Neighbour.public_key": Field("whose signature it bears", READERS, UNTIL_TAKEN_OFF, DataClass.PUBLIC),
    "Neighbour.sha256": Field("its identity", READERS, UNTIL_TAKEN_OFF, DataClass.PUBLIC),
    "Neighbour.document": Field("the other server's edition", READERS, UNTIL_TAKEN_OFF, DataClass.PUBLIC),
    "Neighbour.certificate": Field("what is signed with it", READERS, UNTIL_TAKEN_OFF, DataClass.PUBLIC),
    "Neighbour.signature": Field("shows that its bytes are those", READERS, UNTIL_TAKEN_OFF, DataClass.PUBLIC),
}
