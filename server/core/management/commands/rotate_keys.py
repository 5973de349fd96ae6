from typing import Any

from server.core import rotation
from server.core.commands import CommandWithExamples


class Command(CommandWithExamples):
    help = "Add a new key to the keys file and carry stored marks to it. Stop the service before, start it after."
    examples = """
examples:
  python -m server rotate-keys      then take the keys file to the other machines and to its safe place

exit codes: 0 all marks are under the newest key; run again after a kill, it finishes what was left
"""

    def handle(self, *_: Any, **__: Any) -> None:
        is_new, carried = rotation.rotate()
        for name, n_rows in sorted(carried.items()):
            self.stdout.write(f"{n_rows:8} rows of {name}")
        if is_new:
            self.stdout.write("A new key is in use. Keep a copy of the keys file, with all keys in it.")
        else:
            self.stdout.write("An earlier rotation is finished now, and there is no new key. Run it again for one.")
