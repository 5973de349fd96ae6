"""What a group may call and say of itself: text that shows what it is, and no name that passes for everyone's."""

import unicodedata
from collections.abc import Mapping
from typing import Final

from server.core.errors import Fault, Invalid
from server.groups.models import EVERYONE

# Characters without a shape of their own that turn text round, break its line or hide in it. Those that join letters
# stay: some scripts cannot be written without them.
JOINERS: Final = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
HIDDEN: Final = frozenset({"Cc", "Cf", "Co", "Cs", "Zl", "Zp"})


def require_plain(told: Mapping[str, str]) -> None:
    """Refuse a name or description with hidden characters, and a name that shows nothing or is everyone's."""
    faults = [fault for field, text in told.items() if (fault := _fault(field, text)) is not None]
    if faults:
        raise Invalid("The group's details or rules cannot be taken as they are.", faults=faults)


def _fault(field: str, text: str) -> Fault | None:
    lines = text.splitlines() if field == "description" else [text]
    if any(_is_hidden(character) for line in lines for character in line):
        return Fault(pointer=f"#/{field}", message="It holds characters that do not show. Type it anew by hand.")
    if field == "name" and not any(character.isalnum() for character in text):
        return Fault(pointer="#/name", message="A name needs a letter or a digit.")
    if field == "name" and unicodedata.normalize("NFKC", text).strip().casefold() == EVERYONE:
        return Fault(pointer="#/name", message="This is the name of the group of everyone. Choose another.")
    return None


def _is_hidden(character: str) -> bool:
    return character not in JOINERS and unicodedata.category(character) in HIDDEN
