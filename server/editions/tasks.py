"""What workers and the sweep do for this app, and what is done again after a restore."""

from server.core import doctor, jobs, journal, metrics, rotation
from server.curation import expectations
from server.editions import closing, fitting, selectors, services, soundness, spent
from server.editions.jobs import JobKind
from server.editions.models import SpentMarks

jobs.register(JobKind.FIT_PART, fitting.run_part)
jobs.register(JobKind.ASSEMBLE_DRAFT, services.assemble_draft)
jobs.register_sweep("due cut-offs passed", services.run_due_cut_offs)
jobs.register_sweep("overtaken drafts discarded", services.discard_overtaken_drafts)
jobs.register_sweep("due drafts started", services.start_due_drafts)
journal.register(closing.ENDED_EARLY, closing.end_noted)
journal.register(spent.SPENT, spent.spend_noted)
rotation.register("marks of counted wears", spent.carry_spent, model=SpentMarks)
expectations.register(selectors.model_of_last_edition)
doctor.register("cut-offs and editions", soundness.told_of_odd_editions)
metrics.register("cut-offs and editions", soundness.in_figures)
