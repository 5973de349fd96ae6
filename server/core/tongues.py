"""The languages of the pages, for what is drawn or written out to go with them."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Final

from pooling.tongue import ENGLISH, Tongue

if TYPE_CHECKING:
    from vl_convert import FormatLocaleName

__all__ = ["Tongue", "tongue_for"]

# By language: who writes numbers as it does, under the name that d3-format has for them.
_NUMBERS: Final[Mapping[str, "FormatLocaleName"]] = {"en-gb": ENGLISH.numbers, "de": "de-DE"}


def tongue_for(language: str, say: Callable[[str], str]) -> Tongue:
    """A language of the settings, in which `say` says what is worked out in English."""
    code = language.partition("-")[0]
    return ENGLISH if code == ENGLISH.code else Tongue(code, _NUMBERS[language], say)
