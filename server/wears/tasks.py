"""What the sweep does for wears."""

from datetime import date

from server.core import jobs
from server.wears.services import erase_due_pairs


def erase_readings(today: date) -> None:
    erase_due_pairs(today=today)


jobs.register_sweep("readings erased on their date", erase_readings)
