"""A few queues, held to what docs/METHODS.md says of many."""

import numpy as np
import pytest

from tests.findings.queue import COMMUNITY, queue
from tests.findings.study import good_records


@pytest.fixture(scope="module")
def community():
    return good_records(np.random.default_rng(11), COMMUNITY)


@pytest.mark.parametrize("seed", range(4))
def test_nine_of_ten_faults_stand_out_and_two_good_wears_at_most(community, seed):
    drawn = queue(np.random.default_rng(seed), community)
    assert drawn.n_found >= 9, drawn.missed
    assert drawn.n_at_the_top >= 9
    assert drawn.n_false <= 2
