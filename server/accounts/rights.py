"""What the service may do with each table of accounts."""

from server.core.register import ADDED_OR_DROPPED, ANYTHING, Rights

RIGHTS = {
    "Account": ANYTHING,
    "RecoveryCode": ADDED_OR_DROPPED,
    "SecondFactor": ANYTHING,
    "Token": ADDED_OR_DROPPED,
    "WebSession": ANYTHING,
    "Attempt": ANYTHING,
    "JoiningCode": Rights(drop=True),  # the operator makes them
    "Consent": ADDED_OR_DROPPED,  # each chained to the one before; whole records go when their time is over
    "Wearer": ADDED_OR_DROPPED,
    "RememberedMapping": ANYTHING,
    "Plan": ADDED_OR_DROPPED,
    "Holding": ADDED_OR_DROPPED,
    "PlaceLabel": ADDED_OR_DROPPED,
}
FIGURES: dict[str, Rights] = {}
