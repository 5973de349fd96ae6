"""What the sweep does for curation."""

from server.core import doctor, jobs
from server.curation import looks, record, release

jobs.register_sweep("batches released to moderators", release.release_batches)
jobs.register_sweep("looks forgotten on their date", looks.forget_looks)
doctor.register("records of decisions", record.told_of_broken_chains)
