"""Findings about two instruments' exports and how they went together, before there is a record."""

from collections.abc import Iterator, Mapping

import numpy as np

from pooling.checks.finding import FEWEST_PAIRS, UNIT_RATIO, Finding, in_both, wrong_unit
from pooling.faults import PLAUSIBLE
from pooling.importing.types import NUMBER, Series
from pooling.pairing import Pairing
from pooling.units import MG_DL, MMOL_L
from pooling.vocabulary import counted

FASTEST_MG_DL_MIN, NOISE_MG_DL = 5.0, 75.0
"""How fast blood glucose moves at most (common practice, no source), and what two noisy readings may add to it."""
OVER_MIN = 5


def find_in_exports(sensor: Series, meter: Series, pairing: Pairing) -> tuple[Finding, ...]:
    """Everything worth remarking about a trace, the fingersticks, and their pairing, in a fixed order.

    A file in another unit than it was read in is said alone, since all else follows from it.

    Parameters
    ----------
    sensor, meter
        The readings as read from the files.
    pairing
        What `pooling.pairing.pair` made of them.

    Returns
    -------
    tuple[Finding, ...]
        Without a reading or a time.
    """
    if units := tuple(_units(sensor, meter)):
        return units
    checks = (_impossible(sensor, meter), _outside_wear(pairing), _no_reading_near(pairing), _clocks(pairing))
    return tuple(finding for check in (*checks, _jumps(sensor)) for finding in check)


def _units(sensor: Series, meter: Series) -> Iterator[Finding]:
    """A whole file in the other unit: read in mg/dL it is 18 times too small, read in mmol/L as much too large."""
    middle = {name: _median(series) for name, series in (("sensor", sensor), ("meter", meter))}
    low, high = PLAUSIBLE[MG_DL]
    odd = [name for name, value in middle.items() if not np.isnan(value) and not low <= value <= high]
    ratio = middle["sensor"] / middle["meter"]
    if odd:
        yield wrong_unit(f"Most readings of the {' and the '.join(odd)} are numbers that its unit does not have.")
    elif UNIT_RATIO[0] <= max(ratio, 1 / ratio) <= UNIT_RATIO[1]:
        yield wrong_unit("The readings of one instrument are about 18 times those of the other.")


def _median(series: Series) -> float:
    shown = series.mg_dl[series.mark == NUMBER]
    return float(np.median(shown)) if shown.size else float("nan")


def _impossible(sensor: Series, meter: Series) -> Iterator[Finding]:
    low, high = PLAUSIBLE[MG_DL]
    n_impossible = {
        name: int(np.sum((series.mark == NUMBER) & ~((series.mg_dl >= low - 0.5) & (series.mg_dl <= high + 0.5))))
        for name, series in (("sensor", sensor), ("meter", meter))
    }
    if any(n_impossible.values()):
        of_each = " and ".join(
            f"{counted(number, 'reading')} of the {name}" for name, number in n_impossible.items() if number
        )
        yield Finding(
            "impossible_values",
            "look",
            f"{of_each} lie outside {_in_either_unit(PLAUSIBLE)}.",
            "No display shows such a number; programs often write 0 or 999 where there is no reading.",
            "These rows are left out. If they are readings out of range, the column needs its words for that.",
        )


def _in_either_unit(ranges: Mapping[str, tuple[float, float]]) -> str:
    (low, high), (low_mmol_l, high_mmol_l) = ranges[MG_DL], ranges[MMOL_L]
    return f"{low:g} to {high:g} mg/dL ({low_mmol_l:g} to {high_mmol_l:g} mmol/L)"


def _outside_wear(pairing: Pairing) -> Iterator[Finding]:
    n_outside = sum(one.reason in ("before_insertion", "after_end") for one in pairing.unmatched)
    if n_outside and not pairing.pairs:
        yield Finding(
            "outside_wear",
            "stop",
            f"No fingerstick has a pair; {counted(n_outside, 'fingerstick')} lie before insertion or after the end.",
            "The times of insertion and end do not fit the meter's file, or the file is of another time.",
            "Check the two times and that both files are of the same days.",
        )


def _no_reading_near(pairing: Pairing) -> Iterator[Finding]:
    n_alone = sum(one.reason == "no_sensor_reading" for one in pairing.unmatched)
    n_inside = n_alone + len(pairing.pairs)
    if n_inside >= FEWEST_PAIRS and n_alone > n_inside / 2:
        yield Finding(
            "no_reading_near",
            "look",
            f"{n_alone} of {counted(n_inside, 'fingerstick')} within the wear have no sensor reading near.",
            "The trace has gaps, or the two clocks differ.",
            "Check that the whole trace was exported, and the clocks on both displays.",
        )


def _clocks(pairing: Pairing) -> Iterator[Finding]:
    offset = pairing.offset
    if offset is None or offset.verdict != "differs" or pairing.applied_offset_min:
        return
    yield Finding(
        "clocks_differ",
        "look",
        offset.in_words(),
        "Readings from different moments are compared, and the sensor looks worse than it is.",
        "Compare the clocks on the two displays. If they differ so, confirm it; nothing is moved unasked.",
    )


def _jumps(sensor: Series) -> Iterator[Finding]:
    """Readings of the trace, neighbours or about five minutes apart, between which no body could move."""
    minute = (sensor.time - sensor.time[:1]).astype(np.int64) / 60
    shown = np.where(
        (sensor.mg_dl >= PLAUSIBLE[MG_DL][0]) & (sensor.mg_dl <= PLAUSIBLE[MG_DL][1]), sensor.mg_dl, np.nan
    )
    later = np.searchsorted(minute, minute + OVER_MIN - 0.5)
    inside = later < minute.size
    between_min = minute[later[inside]] - minute[inside]
    moved = np.abs(shown[later[inside]] - shown[inside])
    n_jumps = int(np.sum(moved > FASTEST_MG_DL_MIN * between_min + NOISE_MG_DL))
    if n_jumps:
        yield Finding(
            "impossible_rates",
            "look",
            f"At {counted(n_jumps, 'place')} the trace moves further between two readings than glucose can.",
            f"Glucose seldom moves faster than {in_both(FASTEST_MG_DL_MIN)} a minute; a row, its time or its unit "
            "is probably wrong.",
            "Look at these places in the sensor's own display; if the sensor showed it, nothing needs doing.",
        )
