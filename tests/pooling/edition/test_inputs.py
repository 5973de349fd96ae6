"""What an edition is made from: the real fit offers everything that is read."""

import dataclasses
import typing

import pytest

from pooling.edition import inputs
from pooling.hierarchy import results


@pytest.mark.parametrize(
    ("needed", "offered"),
    [
        (inputs.CellFit, results.CellFit),
        (inputs.Contrast, results.Contrast),
        (inputs.PooledFit, results.PooledFit),
        (inputs.PooledFit, inputs.EmptyFit),
        (inputs.Estimate, results.Estimate),
    ],
)
def test_a_fit_has_what_is_read(needed, offered):
    names = {name for name in vars(needed) if not name.startswith("_")}
    assert names
    assert names <= {field.name for field in dataclasses.fields(offered)}


def test_the_context_is_whole_and_frozen(make_context):
    context = make_context()
    with pytest.raises(dataclasses.FrozenInstanceError):
        context.k = 1
    assert set(typing.get_type_hints(inputs.EditionContext)) >= {"number", "cut_off", "audit_passed", "environment"}
