"""What the sweep does for curation."""

from server.core import jobs
from server.curation import looks, release

jobs.register_sweep("batches released to moderators", release.release_batches)
jobs.register_sweep("looks forgotten on their date", looks.forget_looks)
