"""What workers and the sweep do for this app, and what is done again after a restore."""

from server.core import jobs, journal
from server.editions import admission, fitting, services
from server.editions.jobs import JobKind

jobs.register(JobKind.FIT_PART, fitting.run_part)
jobs.register(JobKind.ASSEMBLE_DRAFT, services.assemble_draft)
jobs.register_sweep("due cut-offs passed", services.run_due_cut_offs)
journal.register(admission.SPENT, admission.spend_noted)
