"""What workers and the sweep do for this app, and what is done again after a restore."""

from functools import partial

from server.core import jobs, journal
from server.editions import fitting, services, spent
from server.editions.jobs import JobKind
from server.editions.models import Family

jobs.register(JobKind.FIT_PART, fitting.run_part)
jobs.register(JobKind.ASSEMBLE_DRAFT, services.assemble_draft)
jobs.register_sweep("due cut-offs passed", services.run_due_cut_offs)
for family in Family.values:
    journal.register(spent.kind(family), partial(spent.spend_noted, family=family))
