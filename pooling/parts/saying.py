"""The other way round: what the fingerstick mostly was when the sensor showed a value."""

from dataclasses import dataclass
from math import exp, log

from scipy.special import ndtri

SHOWN_MG_DL = (60, 70, 80, 100, 150, 200, 250)
"""Values on a display at which the fingerstick is told."""
LOW_BELOW_MG_DL, HIGH_ABOVE_MG_DL = 70.0, 180.0
_Z_80_PCT = float(ndtri(0.9))


@dataclass(frozen=True, slots=True)
class References:
    """A log-normal law of fingersticks."""

    centre_log: float
    sd_log: float

    @classmethod
    def of_shares(cls, low_pct: float, high_pct: float) -> "References | None":
        """The law with these shares below 70 and above 180 mg/dL, or None where there is none.

        Examples
        --------
        >>> law = References.of_shares(5.0, 25.0)
        >>> round(exp(law.centre_log)), round(law.sd_log, 2)
        (137, 0.41)
        """
        if not (0 < low_pct < 100 and 0 < high_pct < 100 and low_pct + high_pct < 100):
            return None
        below, above = float(ndtri(low_pct / 100)), float(ndtri(1 - high_pct / 100))
        sd_log = (log(HIGH_ABOVE_MG_DL) - log(LOW_BELOW_MG_DL)) / (above - below)
        return cls(log(LOW_BELOW_MG_DL) - below * sd_log, sd_log)


def fingerstick_range(
    shown_mg_dl: float, *, location: float, reading_sd_log: float, references: References
) -> tuple[float, float]:
    """The range that holds 80 % of fingersticks when the sensor shows a value.

    Parameters
    ----------
    shown_mg_dl : float
        What the display says.
    location, reading_sd_log : float
        Centre and standard deviation of the log ratio of one reading of a new wear to its fingerstick.
    references : References
        How fingersticks are spread whatever the sensor shows.

    Returns
    -------
    tuple of float
        Ends in mg/dL.

    Notes
    -----
    With fingersticks log-normal and readings log-normal about them, the fingerstick given the reading is log-normal:
    its centre is the precision-weighted mean of the reading, freed of its bias, and the centre of all fingersticks
    (Bayes's rule for a normal mean with a normal prior, any textbook). So a low display lies under the fingersticks
    behind it even where readings have no bias: there are more fingersticks near the middle to be mistaken for it.

    Examples
    --------
    >>> law = References.of_shares(5.0, 25.0)
    >>> [round(end) for end in fingerstick_range(70, location=0.0, reading_sd_log=0.12, references=law)]
    [64, 86]
    """
    trust = references.sd_log**2 / (references.sd_log**2 + reading_sd_log**2)
    centre = trust * (log(shown_mg_dl) - location) + (1 - trust) * references.centre_log
    half = _Z_80_PCT * (trust**0.5) * reading_sd_log
    return exp(centre - half), exp(centre + half)
