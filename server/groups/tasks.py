"""What the sweep does for groups, and what is done again after a restore."""

from server.core import jobs, journal
from server.groups import invitations, services

jobs.register_sweep("expired invitations dropped", invitations.drop_expired)
journal.register(services.LEFT_GROUP, services.end_noted_memberships)
