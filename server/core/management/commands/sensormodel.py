import json
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID

from django.core.management.base import CommandError, CommandParser

from server.core import catalogue
from server.core.commands import CommandWithExamples
from server.core.errors import ServiceError
from server.core.selectors import sensor_models


def _days(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        raise ValueError from None


class Command(CommandWithExamples):
    help = "The catalogue of sensor models, from their own instructions: entries are added and closed, never changed."
    examples = """
examples:
  python -m server sensormodel add demo-a14 --rated-life-days 14 --licensed upper_arm.back:adult abdomen.front
  python -m server sensormodel add demo-a14-2 --rated-life-days 15 --licensed upper_arm.back --generation 2
  python -m server sensormodel close demo-a14
  python -m server sensormodel proposals --json
  python -m server sensormodel accept 6f1c0b52-0f5e-4a57-9d0a-0d3a4d0c8f11
"""

    def add_arguments(self, parser: CommandParser) -> None:
        what = parser.add_subparsers(dest="what", required=True)
        add = what.add_parser("add", help="add an entry")
        add.add_argument("slug", help="its short name in records, such as demo-a14")
        add.add_argument("--rated-life-days", type=_days, required=True, metavar="DAYS")
        add.add_argument(
            "--licensed", nargs="*", default=(), metavar="SITE[:AGES]", help="sites named; ages are adult, child or all"
        )
        add.add_argument("--generation", type=int, default=1, help="of its algorithm; a new one is a new entry")
        add.add_argument("--closed", action="store_true", help="new wears may not name it")
        for word, told in (("close", "new wears may no longer name an entry"), ("open", "they may again")):
            what.add_parser(word, help=told).add_argument("slug")
        for word, told in (("list", "the catalogue"), ("proposals", "what members propose")):
            what.add_parser(word, help=told).add_argument("--json", action="store_true", help="as one JSON document")
        for word, told in (("accept", "make a proposal an entry"), ("decline", "drop a proposal")):
            what.add_parser(word, help=told).add_argument("proposal", type=UUID, help="its id, as `proposals` lists it")

    def handle(self, *_: Any, what: str, **options: Any) -> None:
        try:
            self.stdout.write(getattr(self, f"_{what}")(**options))
        except ServiceError as error:
            raise CommandError(error.detail) from None

    def _add(self, *, slug: str, licensed: list[str], closed: bool, **options: Any) -> str:
        sites = {site: ages or "all" for site, _, ages in (words.partition(":") for words in licensed)}
        life, generation = options["rated_life_days"], options["generation"]
        catalogue.list_model(slug, rated_life_days=life, licensed=sites, generation=generation, is_open=not closed)
        return f"listed: {slug}"

    def _close(self, *, slug: str, **_: Any) -> str:
        return f"closed: {catalogue.set_open(slug, is_open=False)}"

    def _open(self, *, slug: str, **_: Any) -> str:
        return f"open: {catalogue.set_open(slug, is_open=True)}"

    def _list(self, **options: Any) -> str:
        return _told([{**_facts(entry), "open": entry.open} for entry in sensor_models()], as_json=options["json"])

    def _proposals(self, **options: Any) -> str:
        told = [
            {"id": str(one.pk), **_facts(one), "proposed_month": one.proposed_month.isoformat()}
            for one in catalogue.proposals()
        ]
        return _told(told, as_json=options["json"])

    def _accept(self, *, proposal: UUID, **_: Any) -> str:
        return f"listed: {catalogue.accept_proposal(proposal)}"

    def _decline(self, *, proposal: UUID, **_: Any) -> str:
        catalogue.decline_proposal(proposal)
        return f"declined: {proposal}"


def _facts(entry: Any) -> dict[str, Any]:
    return {
        "slug": entry.slug,
        "rated_life_days": float(entry.rated_life_days),
        "licensed_sites": [f"{licence['site']}:{licence['ages']}" for licence in entry.licensed_sites],
        "algorithm_generation": entry.algorithm_generation,
    }


def _told(entries: list[dict[str, Any]], *, as_json: bool) -> str:
    if as_json:
        return json.dumps(entries, indent=2)
    lines = (
        "  ".join(" ".join(value) if isinstance(value, list) else str(value) for value in entry.values())
        for entry in entries
    )
    return "\n".join(lines) or "none"
