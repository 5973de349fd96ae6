import time
from pathlib import Path
from uuid import UUID

from django.conf import settings

from server.core import jobs

KIND, SLOW = "probe", "slow probe"


def notes_of(data_dir: Path, subject: UUID) -> Path:
    return data_dir / f"probe-{subject}"


def hang_once(subject: UUID) -> None:
    """Write down each beginning and each end; hang at the first attempt, to be killed there."""
    notes = notes_of(settings.DATA_DIR, subject)
    first = not notes.exists()
    with notes.open("a") as lines:
        lines.write("begun\n")
        lines.flush()
        while first:
            time.sleep(1)
        lines.write("ended\n")


def wait_for_word(subject: UUID) -> None:
    """Write down the beginning, go on when the test says so, and write down the end."""
    notes = notes_of(settings.DATA_DIR, subject)
    with notes.open("a") as lines:
        lines.write("begun\n")
        lines.flush()
        while not notes.with_suffix(".go").exists():
            time.sleep(0.05)
        lines.write("ended\n")


jobs.register(KIND, hang_once)
jobs.register(SLOW, wait_for_word)
