"""What each chart of a report shows, in a sentence or two, for those who do not see it and those who do."""

from typing import Any

from pooling.report.tables import signed
from pooling.report.words import OTHER_KINDS, group_labels, level_sentences
from pooling.vocabulary import capitalised, counted


def of_levels(report: dict[str, Any], unit: str) -> str:
    """The lowest level each way round; the others stand in the table."""
    both = [level_sentences(report | {left_out: []}, unit) for left_out in ("means", "shows")]
    return " ".join(sentences[0] for sentences in both if sentences)


def of_groups(report: dict[str, Any], unit: str) -> str:
    """The two groups of one kind that lie farthest apart, and whether their margins overlap.

    Groups of different kinds hold the same fingersticks, so that they are not compared.
    """
    labels = group_labels(unit)
    kinds = [_known(report["groups"][kind]) for kind in OTHER_KINDS]
    ends = [(groups[0], groups[-1]) for groups in kinds if len(groups) > 1]
    if not ends:
        only = [f"{capitalised(_told(group, labels))}." for groups in kinds for group in groups]
        return " ".join(["No two groups of one kind have pairs enough to be compared, but single ones have.", *only])
    nearest, farthest = max(ends, key=lambda pair: pair[1]["mard_pct"] - pair[0]["mard_pct"])
    apart = nearest["mard_interval_pct"][1] < farthest["mard_interval_pct"][0]
    margins = "these margins do not overlap" if apart else "these margins overlap, so it may be chance"
    return (
        f"Of groups of one kind, sensor and fingerstick were nearest {_told(nearest, labels)}, and farthest apart "
        f"{_told(farthest, labels)}; {margins}."
    )


def _known(groups: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Those with pairs enough, the nearest first."""
    known = [group for group in groups if group["mard_interval_pct"] is not None]
    return sorted(known, key=lambda group: group["mard_pct"])


def _told(group: dict[str, Any], labels: dict[str, str]) -> str:
    low, high = group["mard_interval_pct"]
    return f"in the group “{labels[group['name']]}” ({group['mard_pct']:.1f} %, could be {low:.1f} to {high:.1f} %)"


def of_grid(report: dict[str, Any]) -> str:
    zones = report["consensus_zones_pct"]
    beyond = sum(zones[zone] for zone in "CDE")
    far = f"{beyond:.0f} % lie farther out, in zones C to E" if beyond else "none lie farther out"
    return (
        f"Of {counted(report['n_pairs'], 'pair')}, {zones['A']:.0f} % lie in zone A, the closest of the five, and "
        f"{zones['B']:.0f} % in zone B, the next; {far}."
    )


def of_days(report: dict[str, Any], unit: str) -> str:
    labels = group_labels(unit)
    told = [
        f"{capitalised(labels[group['name']])}: {group['mard_pct']:.1f} %."
        if group["mard_pct"] is not None
        else f"{capitalised(labels[group['name']])}: too few pairs ({group['n_pairs']})."
        for group in report["groups"]["phase"]
        if group["n_pairs"]
    ]
    return " ".join(["Average difference from the fingerstick over the wear.", *told])


def of_limits(report: dict[str, Any], unit: str) -> str:
    found = report["limits"]["mg_dl"]
    low, bias, high = (signed(found[name], unit) for name in ("lower", "bias", "upper"))
    return f"19 of 20 differences are expected between {low} and {high} {unit}; on average it is {bias} {unit}."
