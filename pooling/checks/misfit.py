"""How a wear sits beside what an edition lets one expect of a new one at its site, and how much a wear needs a look."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import exp, sqrt
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from pooling.checks.finding import FEWEST_PAIRS, Finding
from pooling.columns import PairColumns

FAR_SDS: Final = 3.0
NORMAL_95 = 1.959964
UNLIKE: Final = "unlike_the_pool"
SEVERITY_POINTS: Final[Mapping[str, int]] = MappingProxyType({"stop": 8, "look": 4, "note": 1})
TWICE_POINTS: Final = 6
"""Given twice weighs more than anything but a fault that stops: the same readings twice make a figure look surer."""


@dataclass(frozen=True, slots=True)
class Expected:
    """The mean relative difference of a new wear there, as the last edition lets one expect it, and this wear's own."""

    lower_pct: float
    upper_pct: float
    own_pct: float
    sds_off: float


def expected(columns: PairColumns, model: Mapping[str, Any], *, site: str, sensor_model: str) -> Expected | None:
    """Set the wear's mean log ratio against the predictive law of a new wear's, from an edition's model block alone.

    The law is normal about the cell's location, with the published spreads of people and of wears, and the cell's
    variance of readings over the number of pairs. Pairs of one wear hang together a little, so the range is somewhat
    too narrow for many pairs; a wear is called unlike the others only beyond three standard deviations.

    Parameters
    ----------
    columns
        The pairs of the wear.
    model
        The block `model` of an edition document; empty before there is one.
    site, sensor_model
        Where the wear belongs. The cell with the sensor model is taken, else that of the site over all models.

    Returns
    -------
    Expected | None
        Rounded to whole per cent (standard deviations to a tenth). None where the block has no such cell or tells no
        spread of people and of wears, or the wear has fewer than 8 pairs with a number.
    """
    reference, sensor = columns.numbers_mg_dl
    cells = {(cell["site"], cell["sensor_model"]): cell for cell in model.get("cells", ())}
    cell = cells.get((site, sensor_model)) or cells.get((site, None))
    spreads = model.get("spreads", {}).get("location", {})
    if cell is None or not {"people", "wear"} <= spreads.keys() or reference.size < FEWEST_PAIRS:
        return None
    own = float(np.mean(np.log(sensor / reference)))
    centre = cell["location"]["value"]
    between = spreads["people"]["value"] ** 2 + spreads["wear"]["value"] ** 2
    sd = sqrt(between + exp(cell["log_variance"]["value"]) / reference.size)
    ends = (centre - NORMAL_95 * sd, centre + NORMAL_95 * sd, own)
    lower, upper, own_pct = (round(100 * (exp(end) - 1)) for end in ends)
    return Expected(float(lower), float(upper), float(own_pct), round((own - centre) / sd, 1))


def misfit(beside: Expected | None) -> tuple[Finding, ...]:
    """A remark where the wear lies far from what could be expected; none before there is an edition to expect from."""
    if beside is None or abs(beside.sds_off) < FAR_SDS:
        return ()
    return (
        Finding(
            UNLIKE,
            "look",
            f"The sensor read {beside.own_pct:+.0f} % beside the fingersticks as a rule; of 100 new wears at this site "
            f"95 lie between {beside.lower_pct:+.0f} and {beside.upper_pct:+.0f} %.",
            "A wear so unlike the others is more often a slip (columns, unit, site) than a rare body.",
            "Look for another reason first. A wear without one is left in: odd wears are part of the truth.",
        ),
    )


def points(findings: Iterable[tuple[str, str]], *, given_twice: bool = False) -> int:
    """How much a wear needs a look: the higher, the sooner. Weights are common practice, no source.

    Parameters
    ----------
    findings
        Code and severity of each.
    given_twice
        Whether a copy of it was given or counted.

    Examples
    --------
    >>> points([("wrong_unit", "stop"), ("too_few_pairs", "note")]), points([], given_twice=True), points([])
    (9, 6, 0)
    """
    return sum(SEVERITY_POINTS[severity] for _, severity in findings) + TWICE_POINTS * given_twice
