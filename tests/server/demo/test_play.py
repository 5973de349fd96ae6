from datetime import date

import pytest

from server.demo.client import Visitor
from server.demo.community import Loaded
from server.demo.play import Stage
from server.demo.scenario import scenario
from server.editions.models import Slot


@pytest.fixture
def stage(tmp_path):
    return Stage(scenario(), tmp_path / "date", Visitor("http://127.0.0.1:9"), Loaded(), lambda _: None)


def test_the_invented_date_is_set_in_one_step(stage, tmp_path):
    stage.set_date(date(2031, 3, 1))
    assert (tmp_path / "date").read_text() == "2031-03-01"
    assert [path.name for path in tmp_path.iterdir()] == ["date"]


def test_cut_offs_are_a_month_apart(stage):
    assert [stage.cut_off(slot) for slot in (1, 2)] == [date(2031, 2, 1), date(2031, 3, 1)]


def test_a_cut_off_is_passed_once_the_service_has_sealed_it(stage, tmp_path, db):
    Slot.objects.create(number=2, cut_off=date(2031, 3, 1))
    stage.pass_cut_off(2)
    assert (tmp_path / "date").read_text() == "2031-03-01"
