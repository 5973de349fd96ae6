"""Calls made up from the API's description by the thousand: ``python -m tests.contract --examples 100 --seed 1``.

In a database of its own, without a network. Each call of the description is made that often by itself, as visitor,
member and moderator in turn, and that many chains of calls are made as each of them. Ends with 1 where an answer was
not as described or something of ours broke.
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path


def made(n_examples: int, seed: int) -> bool:
    """Whether every answer was as described; says so, or what was not."""
    import django

    django.setup()
    from django.core.management import call_command

    from tests.contract import calls, world

    call_command("migrate", verbosity=0)
    began, seen = time.monotonic(), calls.Seen()
    with calls.undone():
        there, schema = world.founded(), calls.loaded()
        calls.one_by_one(schema, there, seen, n_examples=n_examples, seed=seed)
        calls.in_chains(schema, there, seen, n_examples=n_examples, seed=seed)
    for complaint in seen.complaints.values():
        print(complaint, end="\n\n", file=sys.stderr)  # noqa: T201
    all_calls = {found.ok().label for found in schema.get_all_operations()}
    for call in sorted(all_calls - seen.calls_done):
        print(f"always refused: {call}")  # noqa: T201
    print(  # noqa: T201
        f"{seen.n_calls:,} calls, {len(seen.calls_done)} of {len(all_calls)} kinds done at least once, "
        f"{len(seen.complaints)} complaints, seed {seed}, {time.monotonic() - began:.0f} s"
    )
    return not seen.complaints


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.contract", description=__doc__)
    parser.add_argument("--examples", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "today").write_text("2031-02-10", encoding="ascii")
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "server.settings",
            "COMMONWEAR_DATA_DIR": folder,
            "COMMONWEAR_DEMO": "yes",
            "COMMONWEAR_CLOCK_FILE": str(place / "today"),
            "COMMONWEAR_FIRST_CUT_OFF": "2030-07-01",
            "COMMONWEAR_DEBUG": "no",
        }
        sys.exit(0 if made(told.examples, told.seed) else 1)


if __name__ == "__main__":
    main()
