"""What the service may do with each table of wears."""

from server.core.register import ADDED_OR_DROPPED, ANYTHING, Rights

RIGHTS = {
    "Wear": ANYTHING,
    "Awaited": ADDED_OR_DROPPED,
    "WearPairs": ANYTHING,
    "WearSummary": ANYTHING,
}
FIGURES: dict[str, Rights] = {}
