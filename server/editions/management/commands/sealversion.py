from pathlib import Path
from typing import Any

import msgspec
from django.core.management.base import BaseCommand, CommandError, CommandParser

from pooling import sealing
from pooling.edition import sha256_hex
from pooling.errors import InvalidInput
from pooling.sealing.deriving import as_source, derived


class Command(BaseCommand):
    help = (
        "For a release: print the module of the next seal version, its constants taken from the document of a "
        "published edition. It reads that file and nothing of the database."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("document", type=Path, help="edition.json of a package")

    def handle(self, *_: Any, document: Path, **__: Any) -> None:
        before = sealing.CURRENT
        try:
            content = document.read_bytes()
            version = derived(msgspec.json.decode(content), number=before.number + 1, before=before)
        except OSError as error:
            raise CommandError(f"{document} cannot be read: {error.strerror}.") from None
        except (msgspec.DecodeError, KeyError, TypeError, AttributeError):
            raise CommandError(f"{document} is no document of an edition.") from None
        except InvalidInput as error:
            raise CommandError(str(error)) from None
        self.stdout.write(as_source(version, before, sha256=sha256_hex(content)), ending="")
