"""Whether two wears are the same readings, one perhaps a changed copy of the other: keyed min-hashes of their pairs.

A wear is taken as two sets: its pairs with their five-minute step, and its neighbouring pairs without any time, so that
a copy whose insertion was put at another minute is known too. Readings are taken in tenths of a mmol/L, the coarser of
what displays show: a record typed anew in the other unit gives the same sets. The smallest of many keyed hashes of a
set agrees between two sets as often as their members do; four such minima make a band, and two wears are alike when
they have a band in common. A band is a number that says nothing without the key, and can be looked up by equality.
"""

from collections.abc import Iterable
from hashlib import blake2b, shake_256
from itertools import pairwise

import numpy as np

from pooling.columns import ELAPSED_STEP_MIN, PairColumns
from pooling.units import MMOL_L, from_mg_dl

FEWEST_PAIRS = 4
"""With fewer different pairs wears cannot be told apart, and none is known again."""
ROWS_A_BAND = 4
TIMED_BANDS, UNTIMED_BANDS = 20, 12
_HASH_BYTES = 8


def bands(columns: PairColumns, *, key: bytes) -> tuple[int, ...]:
    """The bands of a wear's readings under a key.

    Two wears whose sets have the share J of their union in common have a given band in common with probability J⁴, and
    are alike with probability 1 − (1 − J⁴)ᵇ for b bands. With p of the pairs altered, J is (1 − p) / (1 + p) for the
    pairs with their time, which gives 0.98, 0.96, 0.90 and 0.67 for 1, 2, 5 and 20 %: with 20 bands a copy stays
    unknown with probability below 10⁻⁹ up to 5 %, and 1.2 % at 20 %. Wears of different people share next to no pair.

    Parameters
    ----------
    columns : PairColumns
        The pairs, in order of elapsed minutes.
    key : bytes
        32 secret bytes. Bands under different keys have nothing to do with each other.

    Returns
    -------
    tuple of int
        32 numbers from −2⁶³ to 2⁶³ − 1; none at all for a wear with fewer than 4 different pairs.

    Notes
    -----
    Min-wise hashing: Broder, On the resemblance and containment of documents, Compression and Complexity of Sequences
    1997, pp. 21-29. Bands: Leskovec, Rajaraman & Ullman, Mining of Massive Datasets, 2nd ed., section 3.4. Both from
    memory. Keyed hashing by prefixing the key is safe with SHAKE256 (FIPS 202, no length extension).

    Examples
    --------
    >>> empty = PairColumns(*[np.empty(0)] * 9, glucose_unit="mg/dL")
    >>> bands(empty, key=bytes(32))
    ()
    """
    readings = _readings(columns)
    steps = (columns.elapsed_min // ELAPSED_STEP_MIN).tolist()
    timed = {b"%d|%b" % (step, reading) for step, reading in zip(steps, readings, strict=True)}
    if len(timed) < FEWEST_PAIRS:
        return ()
    untimed = {b"%b>%b" % neighbours for neighbours in pairwise(readings)}
    return (*_bands(timed, key + b"timed", TIMED_BANDS), *_bands(untimed, key + b"untimed", UNTIMED_BANDS))


def _readings(columns: PairColumns) -> list[bytes]:
    """Each pair without its time: fingerstick, sensor (−1 where it showed no number) and mark."""
    shown = np.nan_to_num(from_mg_dl(columns.sensor_mg_dl, MMOL_L) * 10, nan=-1)
    tenths = np.rint([from_mg_dl(columns.reference_mg_dl, MMOL_L) * 10, shown]).astype(np.int64)
    return [b"%d,%d,%d" % row for row in zip(*tenths.tolist(), columns.mark.tolist(), strict=True)]


def _bands(members: Iterable[bytes], key: bytes, n_bands: int) -> list[int]:
    n_hashes = n_bands * ROWS_A_BAND
    hashes = b"".join(shake_256(key + member).digest(n_hashes * _HASH_BYTES) for member in members)
    minima = np.frombuffer(hashes, dtype="<u8").reshape(-1, n_hashes).min(axis=0).reshape(n_bands, ROWS_A_BAND)
    return [_number(blake2b(b"%d|%b" % (number, row.tobytes()), key=key).digest()) for number, row in enumerate(minima)]


def _number(digest: bytes) -> int:
    return int.from_bytes(digest[:_HASH_BYTES], signed=True)
