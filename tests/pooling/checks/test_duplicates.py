import numpy as np

from pooling.checks import near_duplicates
from pooling.columns import columns_from
from pooling.likeness import bands
from pooling.record import record_from
from tests.pooling.checks.wears import wear

KEY = bytes(range(32))


def _bands(content):
    return bands(columns_from(record_from(content)), key=KEY)


def test_an_earlier_upload_with_a_few_rows_changed_is_known_again():
    changed = wear(4)
    changed["pairs"][3]["sensor"] += 2
    del changed["pairs"][17]
    (finding,) = near_duplicates(_bands(changed), [_bands(wear(5)), _bands(wear(4))])
    assert (finding.code, finding.severity) == ("near_duplicate", "look")
    assert "1 wear " in finding.seen


def test_other_wears_of_the_same_person_are_not_taken_for_it():
    every = [_bands(wear(seed)) for seed in range(30)]
    remarks = [one for number, own in enumerate(every) for one in near_duplicates(own, every[:number])]
    assert remarks == []


def test_without_pairs_nothing_is_said():
    empty = wear() | {"pairs": []}
    assert list(near_duplicates(_bands(empty), [_bands(empty)])) == []
    assert np.size(_bands(empty)) == 0
