"""An edition with a whole model block, as the fit would publish it, for tests."""

from dataclasses import replace
from typing import Any

from pooling.edition import assemble
from tests.pooling.conftest import Estimate, Fit, make_cell, make_context

SPREADS = {
    "location": {"people": 0.05, "person": 0.04, "person_cell": 0.02, "wear": 0.03, "site": 0.03, "model": 0.02},
    "dispersion": {"people": 0.4, "person": 0.35, "person_cell": 0.15, "wear": 0.25, "site": 0.3, "model": 0.2},
}


def document(**people: int) -> dict[str, Any]:
    """120 people at the arm, 40 at the front of the thigh, 20 at the calf; more by name."""
    return _published(SPREADS, {"upper_arm.back": 120, "thigh.front": 40, "calf": 20} | people)


def document_of_one_model() -> dict[str, Any]:
    """The same where all wears are of demo-a14: such a fit has no effects of models."""
    return _published(_without("model"), {"upper_arm.back": 120, "thigh.front": 40, "calf": 20})


def document_of_one_site() -> dict[str, Any]:
    """120 people at the arm and nobody anywhere else, of several models."""
    return _published(_without("site"), {"upper_arm.back": 120})


def _without(left_out: str) -> dict[str, dict[str, float]]:
    return {channel: {name: sd for name, sd in named.items() if name != left_out} for channel, named in SPREADS.items()}


def _published(given: dict[str, dict[str, float]], counts: dict[str, int]) -> dict[str, Any]:
    mard = {"upper_arm.back": 9.1, "thigh.front": 10.4, "calf": 13.4}
    sites = tuple(make_cell(site, n_people=n, mard=mard.get(site, 10.0)) for site, n in counts.items())
    cells = (make_cell("upper_arm.back", "demo-a14", n_people=70, mard=8.7),)
    spreads = {
        channel: {name: Estimate(sd, 0.5 * sd, 2 * sd) for name, sd in named.items()}
        for channel, named in given.items()
    }
    return assemble(replace(Fit(cells, sites), spreads=spreads, kurtosis=2.0), make_context())
