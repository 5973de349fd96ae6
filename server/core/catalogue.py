"""The operator's hand on the catalogue: entries are added and corrected, and never taken away."""

from collections.abc import Mapping
from decimal import Decimal

from django.core.exceptions import ValidationError

from pooling.vocabulary import SITES
from server.core.errors import Invalid
from server.core.models import SensorModel

AGES = ("adult", "child", "all")


def list_model(
    slug: str, *, rated_life_days: Decimal, licensed: Mapping[str, str], generation: int = 1, is_open: bool = True
) -> SensorModel:
    """Write one entry, in place of the one of this name; `licensed` says for each site whose sensors may sit there."""
    for site, ages in licensed.items():
        if site not in SITES:
            raise Invalid(f"There is no site {site}. There are {', '.join(SITES)}.")
        if ages not in AGES:
            raise Invalid(f"{site} is licensed for {', '.join(AGES)}, not for {ages}.")
    entry = SensorModel(
        slug=slug,
        rated_life_days=rated_life_days,
        licensed_sites=[{"site": site, "ages": ages} for site, ages in sorted(licensed.items())],
        algorithm_generation=generation,
        open=is_open,
    )
    try:
        entry.full_clean(validate_unique=False, exclude=["licensed_sites"])
    except ValidationError as error:
        raise Invalid(" ".join(error.messages)) from None
    entry.save()
    return entry
