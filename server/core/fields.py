"""What core stores, and why."""

from server.core.register import DataClass, Field

UNTIL_DONE = "until the day after the job is done; failed jobs until the operator drops them"
UNTIL_PHYSICAL = "until the next sweep; the newest until there is a newer one"
FOR_A_DAY = "24 to 48 hours; at once when the account closes or a wear is erased"
FOR_GOOD = "for good"
UNTIL_DECIDED = "until the operator accepts or declines it"
WHILE_LISTED = "as long as the catalogue lists the model or a wear names it"

FIELDS = {
    "Job.id": Field("what the queue carries", "workers", UNTIL_DONE, DataClass.INTERNAL),
    "Job.kind": Field("which handler does the work", "workers", UNTIL_DONE, DataClass.INTERNAL),
    "Job.subject": Field("the row to work on", "workers", UNTIL_DONE, DataClass.INTERNAL),
    "Job.state": Field("whether it is to be done", "workers, operator", UNTIL_DONE, DataClass.INTERNAL),
    "Job.attempts": Field("stops a job that kills its worker", "workers, operator", UNTIL_DONE, DataClass.INTERNAL),
    "Job.fault": Field("the type of the last error, no message", "operator", UNTIL_DONE, DataClass.INTERNAL),
    "Job.request_id": Field("finds log lines about it; random", "operator", UNTIL_DONE, DataClass.INTERNAL),
    "Job.changed_on": Field("lets the sweep drop it", "sweep", UNTIL_DONE, DataClass.INTERNAL),
    "SensorModel.slug": Field("names the model in records and tables", "everybody", WHILE_LISTED, DataClass.PUBLIC),
    "SensorModel.rated_life_days": Field("share still on at rated life", "everybody", WHILE_LISTED, DataClass.PUBLIC),
    "SensorModel.licensed_sites": Field("says which sites are off-label", "everybody", WHILE_LISTED, DataClass.PUBLIC),
    "SensorModel.algorithm_generation": Field(
        "keeps readings of different algorithms apart", "everybody", WHILE_LISTED, DataClass.PUBLIC
    ),
    "SensorModel.open": Field("whether new wears may name it", "everybody", WHILE_LISTED, DataClass.PUBLIC),
    "SensorModelProposal.id": Field("row number, random", "operator", UNTIL_DECIDED, DataClass.INTERNAL),
    "SensorModelProposal.slug": Field("the name proposed", "operator", UNTIL_DECIDED, DataClass.INTERNAL),
    "SensorModelProposal.rated_life_days": Field("what it would say", "operator", UNTIL_DECIDED, DataClass.INTERNAL),
    "SensorModelProposal.licensed_sites": Field("what it would say", "operator", UNTIL_DECIDED, DataClass.INTERNAL),
    "SensorModelProposal.algorithm_generation": Field(
        "what it would say", "operator", UNTIL_DECIDED, DataClass.INTERNAL
    ),
    "SensorModelProposal.proposed_month": Field("shows what is old", "operator", UNTIL_DECIDED, DataClass.INTERNAL),
    "IdempotencyKey.mark": Field("finds the answer; keyed", "API", FOR_A_DAY, DataClass.INTERNAL),
    "IdempotencyKey.account_mark": Field(
        "lets the answer go with the account; keyed", "API", FOR_A_DAY, DataClass.INTERNAL
    ),
    "IdempotencyKey.body_digest": Field("refuses the same key for another body", "API", FOR_A_DAY, DataClass.INTERNAL),
    "IdempotencyKey.key_version": Field("which keys made its marks", "operator", FOR_A_DAY, DataClass.INTERNAL),
    "IdempotencyKey.answer": Field(
        "the answer given, encrypted under the request's own key", "the account", FOR_A_DAY, DataClass.HEALTH
    ),
    "IdempotencyKey.answered_on": Field("lets the sweep drop it", "sweep", FOR_A_DAY, DataClass.INTERNAL),
    "Erasure.number": Field("order of the journal's lines", "sweep", UNTIL_PHYSICAL, DataClass.INTERNAL),
    "Erasure.line": Field("what the journal gets: a keyed mark", "sweep", UNTIL_PHYSICAL, DataClass.INTERNAL),
    "Erasure.written": Field("whether it stands in the journal", "sweep", UNTIL_PHYSICAL, DataClass.INTERNAL),
    "Erasure.settled": Field("whether it is off the disks", "sweep", UNTIL_PHYSICAL, DataClass.INTERNAL),
    "Notice.id": Field("row number, random", "the service", FOR_GOOD, DataClass.INTERNAL),
    "Notice.text": Field("what everybody has to be told", "everybody", FOR_GOOD, DataClass.PUBLIC),
    "Notice.posted_on": Field("since when", "everybody", FOR_GOOD, DataClass.PUBLIC),
    "Notice.withdrawn_on": Field("until when it stands on every page", "everybody", FOR_GOOD, DataClass.PUBLIC),
}
