"""The next seal version: constants that an earlier edition found, in place of those that were assumed before any."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from math import exp
from types import MappingProxyType
from typing import Any

from pooling.errors import InvalidInput
from pooling.sealing.version import ChannelConstants, SealVersion

_RATES = {"rate15": "within_15_15_pct", "rate20": "within_20_20_pct"}
FARTHEST = 2.0
"""No constant that weighs or hides moves by more than this factor from one version to the next."""


def derived(document: Mapping[str, Any], *, number: int, before: SealVersion) -> SealVersion:
    """Constants of the next version from one published edition, and from nothing else.

    Only printed figures enter, so the version tells nothing that the edition does not. Standard deviations are those
    of the ``model`` block; those between people set masking noise, too, and so are never less than half of what they
    were. Outside accuracy, for readings far off, and for how alike channels are, an edition prints nothing of the kind:
    these stay.

    Parameters
    ----------
    document : mapping
        A document of format edition/1 with a ``model`` block: some cell has 30 people.
    number : int
        Of the new version; no version has it.
    before : SealVersion
        The one that it follows.

    Returns
    -------
    SealVersion
        Two versions may stand in one pool: each has its own references, and squares that are never added to another's.

    Raises
    ------
    InvalidInput
        The document has no ``model`` block, or none of its rows tells both agreement rates.
    """
    model = document.get("model") or {}
    if not model or number <= before.number:
        raise InvalidInput("a version follows one of a lower number, and comes from an edition with a model block")
    location = _mean([cell["location"]["value"] for cell in model["cells"]])
    log_variance = _mean([cell["log_variance"]["value"] for cell in model["cells"]])
    sites = [row for row in document["tables"]["sites"] if not row["withheld"]]
    told = [row for row in sites if all(row.get(name) for name in _RATES.values())]
    if not told:
        raise InvalidInput("no row of the edition tells both agreement rates")
    mard = _mean([row["mard_pct"]["value"] for row in told]) / 100
    shares = {name: _mean([row[field]["value"] for row in told]) / 100 for name, field in _RATES.items()}
    old = before.channels
    found = {
        "location": {"noise": exp(log_variance), "reference": location},
        "dispersion": {"noise": model["shape"]["kurtosis"]["value"], "reference": log_variance},
        # An edition prints no scatter of single differences: it is taken to go with the square of their mean.
        "direct": {"noise": old["direct"].noise * (mard / old["direct"].reference) ** 2, "reference": mard},
    } | {name: {"noise": share * (1 - share), "reference": share} for name, share in shares.items()}
    channels = {name: _next(old[name], model["spreads"].get(name, {}), **own) for name, own in found.items()}
    kurtosis = channels["dispersion"].noise
    return replace(before, number=number, kurtosis=kurtosis, channels=MappingProxyType({**old, **channels}))


def _next(old: ChannelConstants, spreads: Mapping[str, Any], *, noise: float, reference: float) -> ChannelConstants:
    def found(name: str, before: float) -> float:
        return _within(spreads[name]["value"], before) if name in spreads else before

    return replace(
        old,
        person_sd=found("person", old.person_sd),
        person_cell_sd=found("person_cell", old.person_cell_sd),
        wear_sd=found("wear", old.wear_sd),
        noise=_within(noise, old.noise),
        reference=round(reference, 4),
    )


def _within(value: float, old: float) -> float:
    """Two figures of it are enough for a weight."""
    return float(f"{min(max(value, old / FARTHEST), old * FARTHEST):.2g}")


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def as_source(version: SealVersion, before: SealVersion, *, sha256: str) -> str:
    """The version as a module to be put beside `version.py` and never to be changed again.

    Parameters
    ----------
    version, before : SealVersion
    sha256 : str
        Of the document that it was derived from.
    """
    changed = {name: own for name, own in version.channels.items() if own != before.channels[name]}
    lines = [f'            "{name}": {_constants(own)},' for name, own in changed.items()]
    name, old = f"SEAL_VERSION_{version.number}", f"SEAL_VERSION_{before.number}"
    module = "version" if before.number == 1 else f"version_{before.number}"
    return "\n".join(
        [
            f'"""Frozen constants of sealing, version {version.number}: what an edition found.',
            "",
            f"The edition's document has the SHA-256 {sha256}.",
            '"""',
            "",
            "from dataclasses import replace",
            "from types import MappingProxyType",
            "",
            f"from pooling.sealing.{module} import {old}",
            "from pooling.sealing.version import ChannelConstants",
            "",
            f"{name} = replace(",
            f"    {old},",
            f"    number={version.number},",
            f"    kurtosis={version.kurtosis!r},",
            "    channels=MappingProxyType(",
            "        {",
            f"            **{old}.channels,",
            *lines,
            "        }",
            "    ),",
            ")",
            "",
        ]
    )


def _constants(own: ChannelConstants) -> str:
    told = [f"{one.name}={getattr(own, one.name)!r}" for one in fields(own) if getattr(own, one.name) != one.default]
    return f"ChannelConstants({', '.join(told)})"
