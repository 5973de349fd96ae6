"""Which site serves best by a reader's weights: computed from a published edition and from nothing else."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from pooling.choice import CRITERIA, N_DRAWS, Choice, choose
from pooling.errors import InvalidInput
from server.core.errors import Fault, Invalid
from server.editions.selectors import edition_for_reader

if TYPE_CHECKING:
    from server.accounts.models import Account

__all__ = ["CRITERIA", "LARGEST_WEIGHT", "N_DRAWS", "WeighedSites", "weigh_sites"]

LARGEST_WEIGHT = 1000


@dataclass(frozen=True, slots=True)
class WeighedSites:
    """A choice, and the edition whose figures it rests on."""

    number: int
    sha256: str
    is_public: bool
    choice: Choice


def weigh_sites(
    slug: str,
    weights: Mapping[str, float],
    account: "Account | None",
    *,
    number: int | Literal["latest"] = "latest",
    sensor_model: str | None = None,
) -> WeighedSites:
    """Weigh the sites of an edition that the reader may read; equal weights on equal bytes get equal answers."""
    view = edition_for_reader(slug, number, account)
    _require_sound(weights)
    rng = np.random.default_rng(int(view.sha256, 16))
    try:
        choice = choose(dict(view.document), weights, rng, sensor_model=sensor_model or None)
    except InvalidInput as error:
        raise Invalid("These weights say nothing.", faults=[_fault("#/weights", f"{error}.")]) from None
    return WeighedSites(view.number, view.sha256, view.is_public, choice)


def _require_sound(weights: Mapping[str, float]) -> None:
    faults = [
        _fault(f"#/weights/{name}", f"There is no such thing to weigh; choose among {', '.join(CRITERIA)}.")
        for name in weights
        if name not in CRITERIA
    ] + [
        _fault(f"#/weights/{name}", f"Give a number from 0 to {LARGEST_WEIGHT}.")
        for name, weight in weights.items()
        if name in CRITERIA and not 0 <= weight <= LARGEST_WEIGHT
    ]
    if faults:
        raise Invalid("These weights cannot be used.", faults=faults)


def _fault(pointer: str, message: str) -> Fault:
    return Fault(pointer=pointer, message=message)
