"""What is done again for groups after a restore."""

from server.core import journal
from server.groups import services

journal.register(services.LEFT_GROUP, services.end_noted_memberships)
