from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from server.core.processing import impact_assessment, processing_record

PAPERS = {"record": processing_record, "assessment": impact_assessment}


class Command(BaseCommand):
    help = "Print the controller's papers, filled from what the service stores, as Markdown to be completed."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("paper", choices=PAPERS, help="record of processing, or data protection impact assessment")

    def handle(self, *_: Any, paper: str, **__: Any) -> None:
        self.stdout.write(PAPERS[paper]())
