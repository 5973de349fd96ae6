"""What the service may do with each table of core, and of the libraries that bring their own."""

from server.core.register import ADDED, ANYTHING, READ

RIGHTS = {
    "Job": ANYTHING,
    "SensorModel": READ,  # the catalogue is the operator's
    "SensorModelProposal": ADDED,
    "IdempotencyKey": ANYTHING,
    "Erasure": ANYTHING,
    "Notice": READ,
    "contenttypes.ContentType": READ,
    "auth.Permission": READ,
    "auth.Group": READ,
    "auth.Group_permissions": READ,
}
FIGURES = {
    "SensorModel": READ,
    "Job": ADDED,
}
