"""The own estimate as an answer: figures in order, words that fit them, and notes that are never left out."""

import pytest

from pooling.errors import InvalidInput
from pooling.own import expectation
from pooling.own.expectation import (
    NOTE_IN_POOL,
    NOTE_NOT_TREATMENT,
    NOTE_OTHER_MODEL,
    NOTE_OTHER_SITE,
    NOTE_SAME_PEOPLE,
    NOTE_STARTER,
    how_much_own,
)
from tests.pooling.own.documents import document, document_of_one_model, document_of_one_site
from tests.pooling.own.test_estimate import ARM, THIGH, wear


def test_figures_stand_in_order_and_rest_on_what_is_said():
    found = expectation([wear(), wear(ARM), wear(n=5)], document(), site=THIGH, sensor_model="demo-a14")
    for figure in (found.mard_pct, found.bias_pct):
        assert figure.lower < figure.value < figure.upper
        assert figure.new_wear_from < figure.value < figure.new_wear_to
    assert found.within_15_15_pct.lower < found.within_15_15_pct.value < found.within_15_15_pct.upper
    assert (found.n_own_wears, found.n_own_wears_here, found.n_left_out) == (2, 1, 1)
    assert found.basis == "edition"
    assert "This rests on 2 own wears, 1 of them there" in found.says[-1]
    assert "1 own wear with too few pairs (under eight) cannot be used." in found.notes
    assert f"{found.mard_pct.value:.1f} %" in found.says[0]


def test_that_own_wears_may_be_in_the_pool_is_said_where_there_are_any():
    assert NOTE_IN_POOL in expectation([wear()], document(), site=THIGH).notes
    assert NOTE_IN_POOL not in expectation([], document(), site=THIGH).notes
    assert NOTE_IN_POOL not in expectation([wear()], None, site=THIGH).notes


def test_whom_the_pool_is_about_is_said():
    assert {NOTE_SAME_PEOPLE["adult"], NOTE_NOT_TREATMENT} <= set(expectation([], document(), site=THIGH).notes)


def test_starter_figures_are_marked_and_named_in_every_answer():
    for wears in ([], [wear()]):
        found = expectation(wears, None, site=THIGH)
        assert (found.basis, found.licensed) == ("starter", None)
        assert NOTE_STARTER in found.notes
        assert any("2018;20:1503" in source for source in found.sources)
    assert expectation([], document(), site=THIGH).sources == ()


def test_another_model_than_the_only_one_is_said_and_has_wider_limits():
    known, other = (
        expectation([], document_of_one_model(), site=ARM, sensor_model=model) for model in ("demo-a14", "demo-b10")
    )
    assert NOTE_OTHER_MODEL in other.notes
    assert NOTE_OTHER_MODEL not in known.notes
    assert NOTE_OTHER_MODEL not in expectation([], document(), site=ARM, sensor_model="demo-b10").notes
    assert any("2018;20:1503" in source for source in other.sources)
    widths = [found.mard_pct.upper - found.mard_pct.lower for found in (known, other)]
    assert widths[1] > 1.3 * widths[0]


def test_another_site_than_the_only_one_is_said_and_has_wider_limits():
    known, other = (expectation([], document_of_one_site(), site=site) for site in (ARM, THIGH))
    assert NOTE_OTHER_SITE in other.notes
    assert NOTE_OTHER_SITE not in known.notes
    assert NOTE_OTHER_SITE not in expectation([], document(), site="chest").notes
    assert any("2018;20:1503" in source for source in other.sources)
    widths = [found.mard_pct.upper - found.mard_pct.lower for found in (known, other)]
    assert widths[1] > 1.2 * widths[0]


def test_whether_the_site_is_licensed_is_the_editions_word():
    assert expectation([], document(), site=ARM, sensor_model="demo-a14").licensed is True
    assert expectation([], document(), site=THIGH).licensed is False


@pytest.mark.parametrize("share", [0.0, 0.09, 0.1, 0.3, 0.5, 0.7, 0.95, 1.0])
def test_every_share_has_its_words(share):
    assert "own wears" in how_much_own(share)


def test_a_site_that_is_none_is_refused():
    for paper in (None, document()):
        with pytest.raises(InvalidInput):
            expectation([], paper, site="elbow")
