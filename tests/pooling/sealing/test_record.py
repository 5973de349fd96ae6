import pytest

from pooling.errors import InvalidInput
from pooling.ledger import CellKey
from pooling.sealing.record import Cell, added, cell_payload, read_cell


@pytest.mark.parametrize("model", ["demo-a14", None])
def test_a_cell_is_that_of_the_plan_and_comes_back_from_its_payload(model):
    cell = Cell.of(CellKey("everyone", "calf", model))
    assert (cell.scope, cell.place, cell.sensor_model) == ("everyone", "calf", model)
    assert read_cell(cell_payload(cell)) == cell


def test_cells_without_a_model_sort_first():
    assert Cell("everyone", "calf") < Cell("everyone", "calf", "demo-a14") < Cell("everyone", "chest")


def test_sums_add_up_channel_by_channel():
    assert added({"direct": (1, 2)}, {"direct": (10, 20)}) == {"direct": (11, 22)}
    with pytest.raises(InvalidInput, match="same channels"):
        added({"direct": (1,)}, {"location": (1,)})
