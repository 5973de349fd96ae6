"""Bytes of any code page → text."""

import codecs
import re
from collections import Counter

from charset_normalizer import from_bytes

from pooling.errors import InvalidInput

_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# The legacy code pages of the languages that headers are understood in.
_CODE_PAGES = ["cp1252", "cp1250", "iso8859_2", "iso8859_15", "mac_roman", "cp850", "cp852", "cp1257"]
_LETTERS = frozenset("äöüßéèêëàâîïôûùçœæñíóúáìòãõåøąćęłńśźż°µ€")
_GUESSED_BYTES = 65_536
_CONTROL = bytes((*range(9), *range(14, 32), 127))


def decode(data: bytes) -> str:
    """The text of a file by its byte-order mark, else as UTF-8, UTF-16, or in a likely code page.

    Raises
    ------
    InvalidInput
        If this is no text at all.
    """
    text = _decoded(data)
    raw = text.encode("utf-8", "replace")
    if len(raw.translate(None, _CONTROL)) < len(raw):
        raise InvalidInput(
            "this is not a text file that can be read (it holds control characters); "
            "export it as CSV in UTF-8, or as .xlsx or .ods"
        )
    return text


def _decoded(data: bytes) -> str:
    for mark, name in _BOMS:
        if data.startswith(mark):
            return _strictly(data[len(mark) :], name)
    if wide := _wide(data):
        return _strictly(data, wide)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode(_code_page(data), errors="replace")


def _strictly(data: bytes, name: str) -> str:
    try:
        return data.decode(name)
    except UnicodeDecodeError:
        raise InvalidInput(
            f"the file says that it is {name.upper()} and breaks off or is damaged; export it anew"
        ) from None


def _wide(data: bytes) -> str | None:
    """UTF-16 without a mark: in Western text every other byte is zero."""
    head = data[:4096]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if 4 * max(even, odd) <= len(head) or min(even, odd) * 8 > max(even, odd):
        return None
    return "utf-16-be" if even > odd else "utf-16-le"


def _code_page(data: bytes) -> str:
    """The code page in which the bytes beyond ASCII are most often letters of the nine languages.

    Of equals, one that the library takes for possible goes first, then the order of the list: ñ is commoner than ń.
    """
    telling = b"\n".join(line for line in re.split(rb"[\r\n]+", data) if not line.isascii())[:_GUESSED_BYTES]
    possible = {match.encoding for match in from_bytes(telling, cp_isolation=_CODE_PAGES)}
    return max(_CODE_PAGES, key=lambda name: (_familiar(telling, name), name in possible))


def _familiar(data: bytes, code_page: str) -> float:
    """Share of familiar letters among those beyond ASCII; a capital counts half, for most letters are small."""
    unusual = Counter(letter for letter in data.decode(code_page, errors="replace") if not letter.isascii())
    known = sum(
        n * (1.0 if letter in _LETTERS else 0.5 if letter.lower() in _LETTERS else 0.0) for letter, n in unusual.items()
    )
    return known / max(unusual.total(), 1)
