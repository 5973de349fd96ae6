"""What a moderator should know of a fit before believing it, in plain words.

Read from the sums, the fit and the document that would be published; nothing is said more finely than what is
published, and nothing about a place that has no row.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from pooling import protection
from pooling.edition.assembly import plain
from pooling.edition.document import place_of, table_rows
from pooling.edition.rows import BASIS_TIED
from pooling.errors import PoolingError
from pooling.hierarchy import ChannelFit, FitRules, fit_channel
from pooling.hierarchy.pool import Counts, count, holding
from pooling.hierarchy.rules import FAMILY_OF
from pooling.protection import FULL_ROW_PEOPLE, Withheld
from pooling.sealing import SealedBlock, SealedOverlap, SealedRecord, SealedRecords, SealedTie

RULES_IN_WORDS = {
    "effective": "How many independent draws the fit is worth; fewer than 100 are not accepted.",
    "spread": (
        "How often data made by the model would be spread out at least as far as what was seen. Near 0: there is "
        "more spread than the model knows of. Near 1: less."
    ),
    "residual": (
        "How far the level of a row by itself lies from what all channels together say, in its own standard "
        "deviations; above 3 the shape of readings there is unlike that elsewhere."
    ),
    "contrasts": (
        "Whether people who wore both sites say the same as everybody together; they part where the two lie more "
        "than two standard deviations from each other, a sign that sites were chosen by who reads well there."
    ),
    "influence": "Whether people would seem to differ more, or less, were the sums of one site left out.",
}
_SPREADS = {"between": "between people", "within": "between wears of one person", "tie": "within people, across sites"}
_STEPS = (100, 200, 500, 1000, 2000, 5000)
_SIDE_FRAC = 0.05
_APART_SD = 2.0
_QUICK_DRAWS, _QUICK_EFFECTIVE = 200, 100
Seeded = Callable[[str], np.random.Generator]
Floats = NDArray[np.float64]


def diagnose(
    records: SealedRecords,
    fits: Mapping[str, ChannelFit],
    diagnostics: Mapping[str, Any],
    document: dict[str, Any],
    rules: FitRules,
    rng_of: Seeded,
) -> dict[str, Any]:
    """All that is to be said of one fit, of JSON values only.

    Parameters
    ----------
    records
        The sums that were fitted.
    fits
        Every channel that was fitted, of any family.
    diagnostics
        What putting the channels of accuracy together said of itself; empty where there are none.
    document
        What would be published: it decides which places may be spoken of.
    rules
    rng_of
        Random numbers by the name of the part that needs them.
    """
    k = document["rules"]["k"]
    location = fits.get("location")
    return {
        "rules": RULES_IN_WORDS,
        "channels": [_channel(records, fits[name], k) for name in sorted(fits)],
        "residual": _residual(diagnostics, document),
        "contrasts": [] if location is None else list(_contrasts(records, location, document)),
        "influence": [] if location is None else list(_influence(records, location, document, rules, rng_of)),
        "notes": list(diagnostics.get("notes", ())),
    }


def _channel(records: SealedRecords, fit: ChannelFit, k: int) -> dict[str, Any]:
    held = holding(records, fit.channel)
    counts = count(held)
    n_people = counts.people_among(range(len(counts.cells)))
    return {
        "channel": fit.channel,
        "family": FAMILY_OF[fit.channel],
        "effective": {"at_least": max((step for step in _STEPS if step <= fit.effective), default=0)},
        "spread": [_spread(kind, fit, n_people, k) for kind in _SPREADS if _squares(kind, fit)],
    }


def _squares(kind: str, fit: ChannelFit) -> list[tuple[float, float]]:
    return [(ratio, freedom) for name, ratio, freedom in fit.squares if name.startswith(kind) and freedom > 0]


def _spread(kind: str, fit: ChannelFit, n_people: int, k: int) -> dict[str, Any]:
    """The tail of the scaled chi-square that the fit takes the squares for; of several versions the farthest out."""
    tails = [float(chi2.sf(ratio * freedom, freedom)) for ratio, freedom in _squares(kind, fit)]
    tail = max(tails, key=lambda frac: abs(frac - 0.5))
    shown = protection.publish_probability(tail, n_people=n_people, k=k)
    told = None if isinstance(shown, Withheld) or shown.value is None else float(shown.value)
    says = "withheld"
    if told is not None:
        says = "as expected"
        says = "more than expected" if told <= _SIDE_FRAC else says
        says = "less than expected" if told >= 1 - _SIDE_FRAC else says
    return {"of": _SPREADS[kind], "says": says, "frac": None if isinstance(shown, Withheld) else plain(shown)}


def _residual(diagnostics: Mapping[str, Any], document: dict[str, Any]) -> dict[str, Any] | None:
    by_cell = diagnostics.get("direct_apart_sd", {})
    rows = [(row, f"{place_of(row)}|{row['sensor_model']}") for row in table_rows(document, "sites_by_model")]
    apart = {(row["label"], row["sensor_model"]): abs(by_cell[cell]) for row, cell in rows if cell in by_cell}
    if not apart:
        return None
    largest = max(apart.values())
    return {
        "largest": "under 2" if largest < 2 else "2 to 3" if largest <= 3 else "over 3",
        "rows_over_3": [{"row": name, "sensor_model": model} for (name, model), z in apart.items() if z > 3],
    }


def _contrasts(records: SealedRecords, fit: ChannelFit, document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    counts = count(holding(records, fit.channel))
    for row in table_rows(document, "contrasts"):
        if row["basis"] != BASIS_TIED or row["people"]["at_least"] < FULL_ROW_PEOPLE:
            continue
        a, b = (_members(counts, row[end], row["sensor_model"]) for end in ("site_a", "site_b"))
        overall = _mean(fit.levels, counts, a) - _mean(fit.levels, counts, b)
        within = _mean(fit.levels_within, counts, a) - _mean(fit.levels_within, counts, b)
        apart = abs(float(np.median(within) - np.median(overall))) > _APART_SD * max(float(within.std()), 1e-9)
        yield {
            "row": f"{row['label_a']} against {row['label_b']}",
            "sensor_model": row["sensor_model"],
            "says": "they part" if apart else "they agree",
        }


def _members(counts: Counts, place: str, model: str | None) -> list[int]:
    return [i for i, cell in enumerate(counts.cells) if cell[0] == place and (model is None or cell[1] == model)]


def _mean(levels: Floats, counts: Counts, members: Sequence[int]) -> Floats:
    return np.asarray(levels[:, list(members)] @ counts.share_among(members))


def _influence(
    records: SealedRecords, fit: ChannelFit, document: dict[str, Any], rules: FitRules, rng_of: Seeded
) -> Iterator[dict[str, Any]]:
    k, quick = document["rules"]["k"], replace(rules, draws=_QUICK_DRAWS, wanted_effective=_QUICK_EFFECTIVE)
    held = holding(records, fit.channel)
    for row in table_rows(document, "sites"):
        place = str(place_of(row) or "other")
        rest = SealedRecords.of(record for record in held.records if not _touches(record, place))
        if rest.blocks:
            yield {"row": row["label"], "says": _without(rest, fit, quick, rng_of(f"without {place}"), k)}


def _touches(record: SealedRecord, place: str) -> bool:
    if isinstance(record, SealedBlock):
        return record.cell.place == place
    if isinstance(record, SealedOverlap):
        return place in (record.cell.place, record.other.place)
    return isinstance(record, SealedTie) and place in {cell.place for cell in record.cells}


def _without(rest: SealedRecords, fit: ChannelFit, rules: FitRules, rng: np.random.Generator, k: int) -> str:
    """From published spreads alone: the words know no more than two rounded numbers."""
    counts = count(rest)
    n_people = counts.people_among(range(len(counts.cells)))
    try:
        other = fit_channel(rest, fit.channel, rules, rng)
    except PoolingError:
        return "could not be worked out"
    told = [
        protection.publish_spread(float(np.median(np.sqrt(each.people_variance))), n_people=n_people, k=k)
        for each in (fit, other)
    ]
    values = [float(each.value) for each in told if not isinstance(each, Withheld) and each.value is not None]
    if len(values) < 2:
        return "withheld"
    return _in_words(*values)


def _in_words(with_it: float, without_it: float) -> str:
    change = (without_it - with_it) / max(with_it, 1e-9)
    if abs(change) <= 0.25:
        return "people differ about as much without it"
    much = "much " if abs(change) > 0.5 else ""
    return f"people differ {much}{'more' if change > 0 else 'less'} without it"
