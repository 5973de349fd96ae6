"""Four processes write at once: nobody is told that the database is locked, and nobody is passed over for long."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from itertools import pairwise

from tests.server.running import ROOT

WRITERS = ("ash", "birch", "cedar", "dogwood")
N_EACH = 250
MOST_PASSED_OVER = 100


def test_four_writers_take_turns(tmp_path):
    file = tmp_path / "turns.sqlite3"
    with closing(sqlite3.connect(file)) as own:
        own.execute("PRAGMA journal_mode=WAL")
        own.execute("CREATE TABLE turns (number INTEGER PRIMARY KEY AUTOINCREMENT, writer TEXT)")
    command = [sys.executable, "-m", "tests.server.core.sqlite.writer", str(file)]
    writers = [
        subprocess.Popen(
            [*command, name, str(N_EACH)],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for name in WRITERS
    ]
    assert [writer.stdout.readline() for writer in writers] == ["ready\n"] * len(WRITERS)
    for writer in writers:
        writer.stdin.write("go\n")
        writer.stdin.flush()
    said = [writer.communicate()[1] for writer in writers]
    assert [writer.returncode for writer in writers] == [0] * len(WRITERS), said
    with closing(sqlite3.connect(file)) as own:
        turns = [writer for (writer,) in own.execute("SELECT writer FROM turns ORDER BY number")]
    assert len(turns) == N_EACH * len(WRITERS)
    own_turns = {name: [place for place, writer in enumerate(turns) if writer == name] for name in WRITERS}
    # From when all have had a turn until the first of them has finished.
    begun = max(places[0] for places in own_turns.values())
    ended = min(places[-1] for places in own_turns.values())
    assert begun < ended, "they wrote one after another"
    for name, places in own_turns.items():
        between = [place for place in places if begun <= place <= ended]
        assert max(b - a for a, b in pairwise(between)) <= MOST_PASSED_OVER, name
