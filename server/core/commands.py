"""What our commands have in common: examples under `--help`."""

from argparse import RawDescriptionHelpFormatter
from typing import Any, ClassVar

from django.core.management.base import BaseCommand, CommandParser


class CommandWithExamples(BaseCommand):
    examples: ClassVar[str]

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        return super().create_parser(
            prog_name, subcommand, epilog=self.examples, formatter_class=RawDescriptionHelpFormatter, **kwargs
        )
