import json
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from server.curation.looks import looks_by_day

EXAMPLES = "Examples: `python -m server looks`, `python -m server looks --json > looks.json`."


class Command(BaseCommand):
    help = f"Print on which day which moderator, as a mark, looked at how many wears; the last day first. {EXAMPLES}"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="as a list of objects with day, moderator and n_wears")

    def handle(self, *_: Any, **options: Any) -> None:
        rows = [{"day": day.isoformat(), "moderator": mark, "n_wears": n} for day, mark, n in looks_by_day()]
        if options["json"]:
            self.stdout.write(json.dumps(rows))
            return
        for row in rows:
            self.stdout.write(f"{row['day']}  {row['moderator']}  {row['n_wears']}")
        if not rows:
            self.stdout.write("nobody has looked at a wear in the last twelve months")
