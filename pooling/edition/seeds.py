"""Random numbers that belong to one part of one edition, so that anybody who holds the sums gets the same bytes."""

import hashlib

SEED_RULE = (
    "The seed of a part is the SHA-256, read as one whole number with the most significant byte first, of "
    "`group|number|version of the fit|part` in UTF-8."
)
"""How a seed is found, in words, for the methods text of an edition."""


def seed_of(group_slug: str, number: int, fit_version: int, part: str) -> int:
    """The seed of one part (a channel, or what is drawn when channels are put together) of one edition.

    Examples
    --------
    >>> seed_of("harbour", 7, 1, "location") == seed_of("harbour", 8, 1, "location")
    False
    """
    return int.from_bytes(hashlib.sha256(f"{group_slug}|{number}|{fit_version}|{part}".encode()).digest())
