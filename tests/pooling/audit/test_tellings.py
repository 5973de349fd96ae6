"""What counts in rows tell of counts in no row, beside sums that can be done in one's head."""

from pooling.audit import Shared, Telling, people_told, wears_told


def rounded(records, n):
    nearest = 5 * round(n / 5)
    return Telling(frozenset(records), nearest - 2, nearest + 2)


def exact(records, n):
    return Telling(frozenset(records), n, n)


def test_exact_counts_of_a_site_and_of_its_models_tell_the_hidden_one():
    told = wears_told([exact("abc", 60), exact("a", 31), exact("b", 22)], ["c"], k=5)
    assert (told.n_tested, told.n_narrow, told.narrowest_wears) == (1, 1, 0)
    assert told.reasons() == ("1 unpublished numbers of wears can be told to within 5",)


def test_rounded_counts_do_not():
    for n_site, n_model in ((37, 32), (61, 52), (45, 40), (33, 28)):
        told = wears_told([rounded("ab", n_site), rounded("a", n_model)], ["b"], k=5)
        assert told.passed
        assert told.narrowest_wears == 8


def test_what_a_row_counts_by_itself_and_what_nobody_asks_for_is_not_looked_at():
    assert wears_told([exact("ab", 30)], ["ab", ""], k=5).n_tested == 0


def test_sums_of_two_editions_tell_those_between_them():
    before, since = [exact("a", 30), exact("ab", 37)], [exact("ac", 33), exact("abc", 40)]
    few = wears_told([*before, *since], ["c", "b"], k=5, only_few=True)
    assert (few.n_tested, few.n_pinned) == (2, 1)
    assert wears_told(before, ["c"], k=5, only_few=True).passed


def test_people_in_both_cells_of_a_site_are_told_by_exact_numbers_and_not_by_bands():
    told = people_told([Shared((7, 7), (6, 6), (12, 12)), Shared((5, 9), (10, 19), (10, 19))], k=5)
    assert (told.n_tested, told.n_pinned) == (2, 1)
    assert people_told([], k=5).passed
