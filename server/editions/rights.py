"""What the service may do with each table of editions. All of it is sums, so the same holds behind the wall."""

from server.core.register import ADDED, ADDED_OR_CHANGED, ADDED_OR_DROPPED, ANYTHING, changed_in

RIGHTS = {
    "Slot": ADDED,
    "SealedRecord": changed_in("payload"),  # which goes at its end; the row stays for the audit
    "Closing": ADDED_OR_DROPPED,
    "Place": changed_in("n_wears", "q1", "q2"),
    "TieSeat": ADDED,
    "SpentMarks": changed_in("numbers"),  # what was counted is never forgotten
    "Draft": ADDED_OR_CHANGED,
    "FitPart": ANYTHING,
    "Edition": ADDED,
    "Retraction": ANYTHING,
    "Neighbour": ADDED_OR_DROPPED,
}
FIGURES = RIGHTS
