"""The smallest machine that the handbook names holds the service, with an edition made and people signing in."""

import os
import subprocess
import sys

from tests.small.small import memory_mib, run


def test_an_edition_is_made_in_less_than_one_gib():
    seen = run(24, 12, say=lambda _: None)
    assert seen.fits, seen.as_json()
    assert set(seen.most_of_part_mib) == {"up", "web", "worker", "sweep", "broker"}
    assert seen.most_of_part_mib["up"] < 40, "it has no Django in it"


def test_memory_of_children_is_counted_with_the_part_that_started_them():
    hold = "x = bytearray(60 * 2**20); x[::4096] = b'1' * len(x[::4096]); print('held', flush=True); input()"
    inner = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {hold!r}, 'worker'])"
    outer = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {inner!r}, 'worker'])"
    with subprocess.Popen(
        [sys.executable, "-c", outer], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**os.environ}
    ) as root:
        assert root.stdout.readline() == b"held\n"
        held = memory_mib(root.pid)
        root.stdin.write(b"\n")
    assert set(held) == {"up", "worker"}
    assert held["worker"] > 60 > held["up"]
