"""How often each finding is made in good wears, and how often where its fault was planted."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import msgspec
import numpy as np

from pooling.checks import find
from pooling.checks.exports import find_in_exports
from pooling.columns import columns_from, columns_of
from pooling.likeness import bands
from pooling.pairing import Pairing, pair
from pooling.record import record_from
from pooling.simulate import GroupPlan, simulate_community
from pooling.simulate.trace import InventedExports, draw_exports
from tests.findings.plants import IN_EXPORTS, IN_RECORDS

FACTS = ("too_few_pairs", "calibration_pairs")
"""Remarks that state what is, and cannot be false."""
FEWEST_PAIRS_PLANTED = 20
KEY = bytes(range(32))

Record = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Row:
    """A finding: share of good records and of good exports in which it is made, and of planted ones; in per cent."""

    code: str
    in_records_pct: float | None
    in_exports_pct: float | None
    planted: str
    found_pct: float


def good_records(rng: np.random.Generator, n_wears: int) -> list[Record]:
    """Wears of an invented community, whatever they are like."""
    wears: list[Record] = []
    while len(wears) < n_wears:
        community = simulate_community(rng, groups=(GroupPlan("meadow", 60),))
        wears += [wear.record for wear in community.wears]
    return wears[:n_wears]


def good_exports(rng: np.random.Generator, n_wears: int) -> Iterator[InventedExports]:
    """Wears as exports: every minute, every five and every fifteen, with 20 to 80 fingersticks."""
    for number in range(n_wears):
        yield draw_exports(
            rng,
            spacing_min=(1, 5, 15)[number % 3],
            n_fingersticks=int(rng.integers(20, 81)),
            location=float(rng.normal(0, 0.05)),
        )


def codes_of_record(content: Record) -> set[str]:
    """What is found in a record."""
    record = record_from(content)
    return {finding.code for finding in find(columns_from(record), record)}


def paired(exports: InventedExports) -> Pairing:
    """The pairing of two exports."""
    return pair(exports.sensor, exports.meter, inserted=exports.inserted, ended=exports.ended)


def codes_of_exports(exports: InventedExports) -> set[str]:
    """What is found in two exports and in the pairs that they make."""
    pairing = paired(exports)
    facts = record_from(_record_of(pairing, exports))
    findings = (*find_in_exports(exports.sensor, exports.meter, pairing), *find(columns_from(facts), facts))
    return {finding.code for finding in findings}


def _record_of(pairing: Pairing, exports: InventedExports) -> Record:
    return {
        "format": "wear-record/1",
        "glucose_unit": "mg/dL",
        "sensor_model": "demo-a14",
        "site": "thigh.front",
        "worn_min": int((exports.ended - exports.inserted) // np.timedelta64(60, "s")),
        "end_reason": "completed",
        "assignment": "chosen",
        "calibrated": False,
        "pairs": [msgspec.to_builtins(one) for one in pairing.pairs],
    }


def study(rng: np.random.Generator, *, n_records: int, n_exports: int, n_planted: int) -> list[Row]:
    """Every finding, its false alarms and its hits."""
    records = good_records(rng, n_records)
    in_records = _shares([codes_of_record(record) for record in records])
    in_exports = _shares([codes_of_exports(exports) for exports in good_exports(rng, n_exports)])
    in_records["own_duplicate"] = _share_alike(records)
    found = [*_planted_in_records(rng, records, n_planted), *_planted_in_exports(rng, n_planted)]
    found += [_swapped(rng, n_planted), _uploaded_again(rng, records, n_planted)]
    of_exports_only = {code for code, _, _ in IN_EXPORTS.values()} - {code for code, _, _ in IN_RECORDS.values()}
    return [
        Row(
            code,
            None if code in of_exports_only else in_records.get(code, 0.0),
            None if code == "own_duplicate" else in_exports.get(code, 0.0),
            planted,
            100 * share,
        )
        for code, planted, share in sorted(found)
    ]


def _shares(found: list[set[str]]) -> dict[str, float]:
    counts = Counter(code for codes in found for code in codes if code not in FACTS)
    return {code: 100 * count / len(found) for code, count in counts.items()}


def _planted_in_records(
    rng: np.random.Generator, records: list[Record], n_planted: int
) -> Iterator[tuple[str, str, float]]:
    whole = [record for record in records if len(record["pairs"]) >= FEWEST_PAIRS_PLANTED]
    for code, words, plant in IN_RECORDS.values():
        planted = [changed for record in whole if (changed := plant(rng, record)) is not None][:n_planted]
        yield code, words, float(np.mean([code in codes_of_record(record) for record in planted]))


def _planted_in_exports(rng: np.random.Generator, n_planted: int) -> Iterator[tuple[str, str, float]]:
    for code, words, plant in IN_EXPORTS.values():
        planted = [plant(rng, exports) for exports in good_exports(rng, n_planted)]
        yield code, words, float(np.mean([code in codes_of_exports(exports) for exports in planted]))


def _swapped(rng: np.random.Generator, n_planted: int) -> tuple[str, str, float]:
    hits = []
    for exports in good_exports(rng, n_planted):
        content = _record_of(paired(exports), exports)
        swapped = [
            one | {"reference": one["sensor"], "sensor": one["reference"], "replicate": None}
            for one in content["pairs"]
            if one["sensor"] is not None
        ]
        hits.append("swapped_columns" in codes_of_record(content | {"pairs": swapped}))
    return "swapped_columns", "fingersticks and sensor of a paired wear swapped", float(np.mean(hits))


def _share_alike(records: list[Record]) -> float:
    """Share of wears that are taken for one of the twenty before them."""
    known = [set(bands(columns_from(record_from(record)), key=KEY)) for record in records]
    taken = [any(own & other for other in known[max(0, at - 20) : at]) for at, own in enumerate(known)]
    return 100 * float(np.mean(taken))


def _uploaded_again(rng: np.random.Generator, records: list[Record], n_planted: int) -> tuple[str, str, float]:
    hits = []
    for record in [one for one in records if len(one["pairs"]) >= FEWEST_PAIRS_PLANTED][:n_planted]:
        first = record_from(record)
        kept = [one for one in first.pairs if rng.random() >= 0.05]
        moved = [msgspec.structs.replace(one, elapsed_min=one.elapsed_min + 25) for one in kept]
        again = set(bands(columns_of(moved, first.glucose_unit), key=KEY))
        hits.append(not again.isdisjoint(bands(columns_from(first), key=KEY)))
    words = "uploaded again with 5 % of pairs left out and the insertion 25 minutes off"
    return "own_duplicate", words, float(np.mean(hits))


def as_markdown(rows: list[Row]) -> str:
    """The table of docs/METHODS.md."""

    def shown(share: float | None) -> str:
        return "" if share is None else f"{share:.1f}"

    head = ["finding", "good records, %", "good exports, %", "planted", "found, %"]
    body = [
        [row.code, shown(row.in_records_pct), shown(row.in_exports_pct), row.planted, f"{row.found_pct:.0f}"]
        for row in rows
    ]
    return _table(head, body)


def clocks(rng: np.random.Generator, n_wears: int) -> str:
    """What is said of the two clocks, by how far they are apart, as a table."""
    apart = {"0": (0, 0), "1 to 5": (1, 5), "15 to 30": (15, 30), "31 to 720": (31, 720)}
    body = []
    for name, (least, most) in apart.items():
        verdicts, held = Counter[str](), []
        for _ in range(n_wears):
            offset_min = int(rng.choice([-1, 1])) * int(rng.integers(least, most + 1))
            exports = draw_exports(
                rng, spacing_min=int(rng.choice([1, 5, 15])), n_fingersticks=40, offset_min=float(offset_min)
            )
            told = paired(exports).offset
            if told is None:
                continue
            verdicts[told.verdict] += 1
            if told.minutes is not None and told.uncertainty_min is not None:
                held.append(abs(told.minutes - offset_min) <= told.uncertainty_min)
        shares = [f"{100 * verdicts[verdict] / n_wears:.0f}" for verdict in ("agree", "differs", "unclear")]
        body.append([name, *shares, f"{100 * float(np.mean(held)):.0f}"])
    return _table(["minutes apart", "agree, %", "differ, %", "unclear, %", "interval holds, %"], body)


def _table(head: list[str], body: list[list[str]]) -> str:
    return "\n".join(f"| {' | '.join(cells)} |" for cells in (head, ["---"] * len(head), *body))
