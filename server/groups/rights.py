"""What the service may do with each table of groups."""

from server.core.register import ADDED, ADDED_OR_CHANGED, ADDED_OR_DROPPED, ANYTHING, READ

RIGHTS = {
    "Group": ADDED_OR_CHANGED,
    "Membership": ANYTHING,
    "Invitation": ANYTHING,
    "InvitedTally": ANYTHING,
    "Protocol": ADDED,  # earlier versions stay: decisions name them
    "ProtocolPreview": ADDED_OR_DROPPED,
    "JointRound": ADDED_OR_DROPPED,
    "RoundPlace": ADDED_OR_DROPPED,
}
FIGURES = {
    "Group": READ,
    "Protocol": READ,
}
