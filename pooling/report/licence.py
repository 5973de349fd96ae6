"""Whether the sensor's own instructions name the site it was worn on."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Status = Literal["named", "off_label", "off_label_for_age", "not_known"]


@dataclass(frozen=True, slots=True)
class LicensedSite:
    """A site that the instructions of a sensor model name, and for whom: adult, child or all."""

    site: str
    ages: str


def status_of(site: str, licensed: Sequence[LicensedSite] | None, ages: str | None) -> Status:
    """What the instructions say of a site, as far as it is known.

    Parameters
    ----------
    site : str
    licensed : sequence of LicensedSite, or None
        Sites of this sensor model; None where nobody can say.
    ages : "adult", "child" or None
        The wearer's age class; None where it is not known.

    Examples
    --------
    >>> named = [LicensedSite("calf", "adult")]
    >>> [status_of("calf", named, ages) for ages in ("adult", "child", None)]
    ['named', 'off_label_for_age', 'not_known']
    >>> status_of("chest", named, "adult"), status_of("calf", None, "adult")
    ('off_label', 'not_known')
    """
    if licensed is None:
        return "not_known"
    named_for = {one.ages for one in licensed if one.site == site}
    if not named_for:
        return "off_label"
    if "all" in named_for or ages in named_for or {"adult", "child"} <= named_for:
        return "named"
    return "not_known" if ages is None else "off_label_for_age"
