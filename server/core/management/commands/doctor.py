import json
import sys
from dataclasses import asdict
from typing import Any

from django.core.management.base import CommandParser

from server.core import doctor
from server.core.commands import CommandWithExamples


class Command(CommandWithExamples):
    help = "Look at the running service and say in words what is wrong and what to do. Changes nothing."
    examples = """
examples:
  python -m server doctor
  python -m server doctor --json

exit codes: 0 nothing to complain of, whatever is advised; 1 something is wrong, as said
"""
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="as one JSON document")

    def handle(self, *_: Any, **options: Any) -> None:
        findings = list(doctor.examine())
        if options["json"]:
            self.stdout.write(json.dumps([asdict(finding) for finding in findings], indent=2))
        else:
            for finding in findings:
                self.stdout.write(f"{finding.looked_at}: " + ("  ".join(finding.complaints) or "well"))
                for line in finding.advice:
                    self.stdout.write(f"  advice: {line}")
        if any(finding.complaints for finding in findings):
            sys.exit(1)
