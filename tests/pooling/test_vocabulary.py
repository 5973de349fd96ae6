import pytest

from pooling import vocabulary
from pooling.errors import InvalidInput
from pooling.vocabulary import REGIONS, REGIONS_WITH_ROW, SITES, counted, label, region_of

LISTS = [
    value
    for name, value in vars(vocabulary).items()
    if name.isupper() and isinstance(value, tuple) and "GRADE" not in name
]


def test_every_leaf_belongs_to_one_region():
    assert sorted(leaf for leaves in REGIONS.values() for leaf in leaves) == sorted(SITES)
    assert all(region_of(leaf) == region for region, leaves in REGIONS.items() for leaf in leaves)


def test_a_region_of_one_leaf_is_that_leaf_and_has_no_row_of_its_own():
    alone = {region for region, leaves in REGIONS.items() if len(leaves) == 1}
    assert alone == {"forearm", "chest", "lower_back", "buttock", "calf"}
    assert all(REGIONS[region] == (region,) for region in alone)
    assert set(REGIONS_WITH_ROW) == {"upper_arm", "abdomen", "thigh"}


def test_every_word_of_every_list_has_plain_english():
    assert len(LISTS) > 12
    for words in LISTS:
        assert len(set(words)) == len(words)
        assert all(label(word).strip() and "_" not in label(word) for word in words)


def test_sites_read_differently():
    places = {*SITES, *REGIONS}
    assert len({label(place) for place in places}) == len(places)


def test_unknown_words_are_refused():
    with pytest.raises(InvalidInput):
        label("knee")
    with pytest.raises(InvalidInput, match=r"thigh\.front"):
        region_of("thigh")


@pytest.mark.parametrize(("number", "words"), [(1, "1 pair"), (0, "0 pairs"), (1200, "1,200 pairs")])
def test_a_number_has_its_noun(number, words):
    assert counted(number, "pair") == words
