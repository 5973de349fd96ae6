from decimal import Decimal
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from server.core.catalogue import list_model
from server.core.errors import Invalid


class Command(BaseCommand):
    help = "Write an entry of the catalogue of sensor models, from the sensor's own instructions."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("slug", help="its short name in records, such as demo-a14")
        parser.add_argument("--rated-life-days", type=Decimal, required=True, metavar="DAYS")
        parser.add_argument(
            "--licensed", nargs="*", default=(), metavar="SITE[:AGES]", help="sites named; ages are adult, child or all"
        )
        parser.add_argument("--generation", type=int, default=1, help="of its algorithm")
        parser.add_argument("--closed", action="store_true", help="new wears may no longer name it")

    def handle(self, *_: Any, slug: str, licensed: list[str], closed: bool, **options: Any) -> None:
        sites = {site: ages or "all" for site, _, ages in (words.partition(":") for words in licensed)}
        life, generation = options["rated_life_days"], options["generation"]
        try:
            list_model(slug, rated_life_days=life, licensed=sites, generation=generation, is_open=not closed)
        except Invalid as error:
            raise CommandError(error.detail) from None
        self.stdout.write(f"listed: {slug}")
