"""Findings are common practice, from no published source: each is planted alone in a wear that is clean without it."""

from types import SimpleNamespace

import pytest

from pooling.checks import find
from pooling.columns import columns_from
from pooling.record import record_from
from tests.pooling.checks.wears import codes, each, wear


def test_a_wear_without_pairs_is_told_that_it_counts_all_the_same():
    assert codes(wear() | {"pairs": [], "events": []}) == ["too_few_pairs"]


PLANTED = {
    "digit_preference": lambda content: each(content, reference=lambda _, pair: round(pair["reference"], -1)),
    "all_in_doubt": lambda content: each(content, prompt="doubt"),
    "one_sided_range": lambda content: each(
        content, reference=lambda n, _: 190 + 3 * n, sensor=lambda n, _: 180 + 4 * n, replicate=None
    ),
    "repeated_pairs": lambda content: content | {"pairs": content["pairs"] + content["pairs"][-1:]},
    "calibration_pairs": lambda content: (
        content
        | {"calibrated": True, "pairs": [content["pairs"][0] | {"prompt": "calibration"}, *content["pairs"][1:]]}
    ),
}


@pytest.mark.parametrize("code", PLANTED)
def test_a_planted_fault_is_found(code):
    assert code not in codes(wear())
    assert code in codes(PLANTED[code](wear()))


def test_pairs_from_after_the_end_are_found_before_there_is_a_record():
    columns = columns_from(record_from(wear()))
    short = SimpleNamespace(worn_min=1440, calibrated=False, meter_class="unknown")
    (finding,) = [one for one in find(columns, short) if one.code == "outside_wear"]
    n_after = int((columns.elapsed_min > 1440).sum())
    assert finding.seen == f"{n_after} pairs from after the end of the wear."
