"""A short slice of every goal: each attack gets nothing out of ours."""

import pytest

from tests.redteam.__main__ import attack
from tests.redteam.registry import goals


@pytest.mark.parametrize("letter", sorted(goals()))
def test_ours_stands(letter):
    lines, _ = attack(letter, full=False, seed=1)
    assert lines
    assert [line for line in lines if not line.stood] == []
