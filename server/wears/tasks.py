"""What the sweep does for wears, and what is done again after a restore."""

from datetime import date

from server.core import jobs, journal, rotation
from server.wears import copies, services


def erase_readings(today: date) -> None:
    services.erase_due_pairs(today=today)


def look_for_copies(_today: date) -> None:
    copies.look_for_copies()


jobs.register_sweep("copies looked for", look_for_copies)
jobs.register_sweep("readings erased on their date", erase_readings)
journal.register(services.ERASED_WEAR, services.erase_noted_wears)
journal.register(services.TAKEN_BACK, services.take_back_noted)
rotation.register("what knows a wear again", copies.carry_likeness)
