"""What the service may do with each table of curation."""

from server.core.register import ADDED, ADDED_OR_CHANGED, ADDED_OR_DROPPED, Rights

RIGHTS = {
    "Decision": ADDED,  # the record, each entry chained to the one before
    "ReleaseDay": ADDED_OR_DROPPED,
    "Look": ADDED_OR_DROPPED,  # forgotten on its date
    "Told": ADDED_OR_CHANGED,
}
FIGURES: dict[str, Rights] = {}
