"""An edition document as bytes, its identity, and looking things up in it."""

import hashlib
import json
import math
from decimal import Decimal
from typing import Any

import rfc8785

from pooling.errors import InvalidInput

FORMAT = "edition/1"

# Published figures are decimals of few places; a longer tail means that something was never rounded.
_MOST_PLACES = 9
TABLES = (
    "sites",
    "sites_by_model",
    "contrasts",
    "phases",
    "ranges",
    "prompts",
    "lows",
    "lots",
    "when_the_sensor_says",
    "survival",
    "skin",
    "ratings",
)


def json_number(number: Decimal) -> int | float:
    """The JSON number of a decimal: whole ones as integers, so that a document survives writing and reading."""
    return int(number) if number == number.to_integral_value() else float(number)


def canonical_bytes(document: dict) -> bytes:
    """The document as canonical JSON (RFC 8785): equal documents give equal bytes, whatever built them.

    Raises
    ------
    InvalidInput
        If it holds a number that is not finite, too large for JSON, or was never rounded, or a value JSON lacks.

    Examples
    --------
    >>> canonical_bytes({"b": 10.0, "a": -0.0})
    b'{"a":0,"b":10}'
    """
    try:
        return rfc8785.dumps(_settled(document))
    except rfc8785.CanonicalizationError as error:
        raise InvalidInput(f"the document has no canonical form: {error}") from error


def sha256_hex(raw: bytes) -> str:
    """The identity of a document: the SHA-256 of its canonical bytes, as lower-case hexadecimal."""
    return hashlib.sha256(raw).hexdigest()


def read_document(raw: bytes, *, sha256: str | None = None) -> dict:
    """Read an edition document back, sure that it is one and whole.

    Parameters
    ----------
    raw
        The bytes as published.
    sha256
        Its identity in hexadecimal, when known.

    Raises
    ------
    InvalidInput
        If the bytes do not have that identity, are not canonical JSON, or hold another format.
    """
    if sha256 is not None and sha256_hex(raw) != sha256.lower():
        raise InvalidInput("these bytes are not the edition they are said to be: their SHA-256 differs")
    try:
        document = json.loads(raw)
    except ValueError as error:
        raise InvalidInput("an edition document is JSON in UTF-8") from error
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise InvalidInput(f"this is no document in the format {FORMAT}")
    if canonical_bytes(document) != raw:
        raise InvalidInput("an edition document is canonical JSON (RFC 8785); these bytes were written in another way")
    return document


def table_rows(document: dict, table: str) -> list[dict]:
    """The rows of one of the document's tables; none where the edition is older than the table.

    Raises
    ------
    InvalidInput
        If there is no such table.
    """
    if table not in TABLES:
        raise InvalidInput(f"no such table; choose one of {', '.join(TABLES)}")
    return document["tables"].get(table, [])


def site_row(document: dict, place: str, model: str | None = None) -> dict | None:
    """The row of a site or region, over all sensor models or for one; None when there is nothing to show."""
    rows = table_rows(document, "sites" if model is None else "sites_by_model")
    return next((row for row in rows if place_of(row) == place and row["sensor_model"] == model), None)


def place_of(row: dict) -> str | None:
    """The site of a row of sites, or its region where the site is not told apart."""
    return row["site"] or row["region"]


def contrast_row(document: dict, site_a: str, site_b: str, model: str | None = None) -> dict | None:
    """The contrast of two places, if it stands in this order."""
    rows = table_rows(document, "contrasts")
    wanted = site_a, site_b, model
    return next((row for row in rows if (row["site_a"], row["site_b"], row["sensor_model"]) == wanted), None)


def _settled(node: Any) -> Any:
    """The same values with every float taken through its decimal: whole numbers whole, no negative zero."""
    match node:
        case float():
            return _settled_float(node)
        case dict():
            return {key: _settled(value) for key, value in node.items()}
        case list() | tuple():
            return [_settled(value) for value in node]
        case str() | bool() | int() | None:
            return node
    raise InvalidInput(f"a document holds JSON values only, not a {type(node).__name__}")


def _settled_float(number: float) -> int | float:
    if not math.isfinite(number):
        raise InvalidInput("a document holds finite numbers only")
    exact = Decimal(repr(float(number)))
    if int(exact.as_tuple().exponent) < -_MOST_PLACES:
        raise InvalidInput("a number with so many places was never rounded for publication")
    return json_number(exact)
