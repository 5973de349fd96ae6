"""What the sweep does for groups, whom their invitations let in, and what is done again after a restore."""

from server.accounts import joining
from server.core import jobs, journal
from server.groups import invitations, previews, rounds, services

joining.register(services.join_by_code)
jobs.register_sweep("expired invitations dropped", invitations.drop_expired)
jobs.register_sweep("rounds dropped", rounds.drop_past)
jobs.register_sweep("previews of rules dropped", previews.drop_past)
journal.register(services.LEFT_GROUP, services.end_noted_memberships)
