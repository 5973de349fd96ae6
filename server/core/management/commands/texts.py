"""`texts`: compile the catalogues of texts; with --update first bring them up to what the code says."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from server.core import texts


class Command(BaseCommand):
    help = "Compile the catalogues of texts; with --update, first take in what the code says anew."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--update", action="store_true", help="find the texts of the code anew (for contributors)")

    def handle(self, *args: Any, **options: Any) -> None:  # noqa: ARG002
        for file in texts.catalogue_files() if options["update"] else []:
            catalogue = texts.update(file)
            empty = [message.id for message in catalogue if message.id and not _is_translated(message.string)]
            self.stdout.write(
                f"{file.parent.parent.name}/{file.stem}: {len(catalogue)} texts, {len(empty)} to translate"
            )
        for made in texts.compile_stale():
            self.stdout.write(f"compiled {made.parent.parent.name}/{made.stem}")


def _is_translated(string: Any) -> bool:
    return all(string) if isinstance(string, tuple) else bool(string)
