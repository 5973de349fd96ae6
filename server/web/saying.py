"""What comes up from `pooling` and the services, said in the reader's language.

Below the pages everything speaks English (`server/core/sentences.py` says why, and where the messages are found). Here
an English text is looked up as a whole; else the message is looked for whose holes its numbers and names fill; else it
is said sentence by sentence. What nobody has words for stays as it came: names, models, digests.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from babel.messages.mofile import read_mo
from django.conf import settings
from django.utils import formats
from django.utils.text import capfirst
from django.utils.translation import get_language, to_locale
from django.utils.translation import gettext as _

from server.core import glucose, selectors
from server.core.texts import FROM_BELOW, LOCALE
from server.core.tongues import Tongue, tongue_for
from server.groups.services import NAME_OF_EVERYONE

_HOLE: Final = re.compile(r"%\((\w+)\)s")
_NUMBER: Final = re.compile(r"(?<![\w.,/-])(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?(?![\w/]|[.,]\w)")
_CLOSING: Final = frozenset(".;:")
_SENTENCES: Final = re.compile(r"(?<=[.:;!?])\s+")
# Of a message with fewer letters than this, such as "%(low)s to %(high)s", every hole has to be filled by a number.
_FEW_LETTERS: Final = 5
_UNIT = r"(?:%|mg/dL|mmol/L|points?|days?)"
_A_NUMBER, _A_COUNT = rf"([+−-]?\d[\d.,]*(?: {_UNIT})?)", r"(\d[\d.,]*)"
_SENTENCES_ALONE, _WITHIN_ONE = r"(.+?)", r"((?:(?![.!?] [A-Z]).)+?)"
_ADJOINED, _UNIT_ADJOINED = r"(| ?[(,;:].*?)", rf"(| ?{_UNIT})"
_TWO_HOLES: Final = re.compile(r"%\((\w+)\)s %\((\w+)\)s")


@dataclass(frozen=True, slots=True)
class _Pattern:
    """A message with holes: what it looks like in English, and how it is said."""

    looks: re.Pattern[str]
    holes: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True)
class Lexicon:
    """The sentences of one language."""

    whole: Mapping[str, str]
    patterns: Sequence[_Pattern]

    def said(self, text: str) -> str:
        return self._known(text) or self._by_sentence(text)

    def _known(self, text: str) -> str | None:
        """The text as one message, or None where there is no such message."""
        if text == NAME_OF_EVERYONE:
            return group_name(text)
        if (found := self.whole.get(text)) is not None:
            return found
        if text[:1].isupper() and (found := self.whole.get(text[0].lower() + text[1:])) is not None:
            return capfirst(found)
        if (found := self._filled(text)) is not None:
            return found
        if text[-1:] in _CLOSING and (found := self._known(text[:-1])) is not None:
            return found + text[-1]
        if text[:1].isupper() and (found := self._filled(text[0].lower() + text[1:])) is not None:
            return capfirst(found)
        return None

    def _filled(self, text: str) -> str | None:
        """The text as a message with holes."""
        for pattern in self.patterns:
            if (match := pattern.looks.fullmatch(text)) is not None:
                filled = zip(pattern.holes, match.groups(), strict=True)
                return pattern.says % {name: self.said(part) for name, part in filled}
        return None

    def _by_sentence(self, text: str) -> str:
        parts = _SENTENCES.split(text)
        if len(parts) == 1:
            return self._as_list(text) or localised(text)
        return " ".join(self._longest_first(parts))

    def _as_list(self, text: str) -> str | None:
        """Names with commas between them, or before the first, if there is a word for each."""
        names = text.split(", ")
        known = [found for name in names if (found := self._known(name) if name else "") is not None]
        return ", ".join(known) if len(known) == len(names) > 1 else None

    def _longest_first(self, parts: Sequence[str]) -> Iterator[str]:
        """Of the sentences that stand together in one message as many as can be, then on from there."""
        start = 0
        while start < len(parts):
            for end in range(len(parts), start, -1):
                together = " ".join(parts[start:end])
                if (start, end) != (0, len(parts)) and (found := self._known(together)) is not None:
                    yield found
                    break
            else:
                end = start + 1
                yield localised(parts[start])
            start = end


def said(text: Any) -> str:
    """An English text from below in the language of this page; in English it stays as it is.

    >>> said("calf")
    'calf'
    """
    language = get_language()
    if language is None or language.startswith("en"):
        return str(text)
    return _lexicon(to_locale(language)).said(str(text)) if text else ""


def tongue_of_page() -> Tongue:
    """The language of this page, for what is drawn or written out to go with it."""
    return tongue_for(get_language() or settings.LANGUAGE_CODE, said)


def group_name(name: str) -> str:
    """What a group is called: by the name that its founder gave it; the one without a founder in the reader's words."""
    return _("Everyone") if name == NAME_OF_EVERYONE else name


def word_for(slug: str) -> str:
    """A word of the vocabulary in the reader's language."""
    return said(selectors.word_for(slug))


def words(known: Mapping[str, str]) -> dict[str, str]:
    """Labels by what they stand for, each in the reader's language."""
    return {slug: said(text) for slug, text in known.items()}


def site_labels() -> dict[str, str]:
    """Each site in plain words."""
    labels: Any = selectors.vocabulary()["labels"]
    return words(labels)


def skin_grades() -> list[str]:
    """A wearer's own scale of how the skin took it, in words."""
    return [said(grade) for grade in selectors.word_lists()["skin_grades"]]


def after_its_word(paragraph: str) -> str:
    """What a paragraph of the consent says after the word that it begins with; that word is a heading on pages."""
    says = said(paragraph).partition(": ")[2]
    return capfirst(says)


def caution() -> dict[str, Any]:
    """The caution as pages show it."""
    shown: dict[str, Any] = selectors.caution_paragraphs()
    return {"short": said(shown["short"]), "paragraphs": [said(paragraph) for paragraph in shown["paragraphs"]]}


def glucose_text(value_mg_dl: float, unit: str) -> str:
    """A reading as displays show it, written as the reader's language writes numbers."""
    return localised(glucose.glucose_text(value_mg_dl, unit))


def localised(text: str) -> str:
    """A text with the numbers in it written as the reader's language writes them."""
    point = formats.get_format("DECIMAL_SEPARATOR")
    if point == ".":
        return text
    turned = str.maketrans({".": str(point), ",": str(formats.get_format("THOUSAND_SEPARATOR"))})
    return _NUMBER.sub(lambda found: found[0].translate(turned), text)


@cache
def _lexicon(locale: str) -> Lexicon:
    """The compiled catalogue of a language; without one, nothing is known and everything stays English."""
    file = LOCALE / locale / "LC_MESSAGES" / f"{FROM_BELOW}.mo"
    if not file.exists():
        return lexicon_of({})
    with file.open("rb") as content:
        return lexicon_of({str(message.id): str(message.string) for message in read_mo(content) if message.id})


def lexicon_of(told: Mapping[str, str]) -> Lexicon:
    """What is said for each message of a catalogue, ready to be looked up."""
    whole = {english % {}: says % {} for english, says in told.items() if not _HOLE.search(english)}
    patterns = [_pattern(english, says) for english, says in told.items() if _HOLE.search(english)]
    return Lexicon(whole, sorted(patterns, key=lambda pattern: -len(_letters(pattern.looks.pattern))))


def _pattern(english: str, says: str) -> _Pattern:
    english, says = _joined(english, says)
    texts, holes = _HOLE.split(english)[::2], _HOLE.findall(english)
    few = len(_letters("".join(texts))) < _FEW_LETTERS
    looks = [re.escape(text.replace("%%", "%")) for text in texts]
    fills = [_fill(name, texts[n], texts[n + 1], is_first=n == 0, few=few) for n, name in enumerate(holes)]
    woven = "".join(part for pair in zip(looks, [*fills, ""], strict=True) for part in pair)
    return _Pattern(re.compile(woven, re.DOTALL), tuple(holes), says)


def _joined(english: str, says: str) -> tuple[str, str]:
    """Two holes with nothing but a space between hold sentences that follow each other: one hole, where both agree."""
    for one, other in _TWO_HOLES.findall(english):
        both = f"%({one})s %({other})s"
        if both in says:
            english, says = english.replace(both, f"%({one})s"), says.replace(both, f"%({one})s")
    return english, says


def _fill(name: str, before: str, after: str, *, is_first: bool, few: bool) -> str:
    """What may stand in a hole: a count, a number, what adjoins the hole before, whole sentences, or a part of one."""
    if not before and not is_first:
        return _UNIT_ADJOINED if few else _ADJOINED
    if name == "number":
        return _A_COUNT
    if few:
        return _A_NUMBER
    begins = not before or before.endswith((". ", "? ", ": "))
    ends = not after or (after[:1] == " " and after[1:2].isupper())
    return _SENTENCES_ALONE if begins and ends else _WITHIN_ONE


def _letters(text: str) -> str:
    return "".join(filter(str.isalpha, text))
