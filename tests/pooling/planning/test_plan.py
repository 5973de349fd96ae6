"""A whole plan: what it says, what it leaves out, and rows to print."""

import msgspec
import numpy as np
import pytest

from pooling.planning import PlanInvalid, make_plan, rows
from pooling.planning.outlook import NOTE_OFF_LABEL, NOTE_REST, NOTE_STARTER
from pooling.vocabulary import label
from tests.pooling.own.documents import document
from tests.pooling.planning.requests import ARM, THIGH, asked


def plan(request=None, seed=1, days=10, **more):
    return make_plan(request or asked(), np.random.default_rng(seed), rated_life_days=days, **more)


def test_it_has_a_wear_for_each_turn_and_days_that_follow_each_other():
    made = plan()
    assert [wear.number for wear in made.wears] == [1, 2, 3, 4]
    assert [(wear.from_day, wear.to_day) for wear in made.wears] == [(1, 11), (11, 21), (21, 31), (31, 41)]
    assert made.n_days == 41
    assert {len(wear.pricks) for wear in made.wears} == {made.pairs_per_wear}


def test_without_a_number_of_fingersticks_it_takes_as_many_as_help():
    assert plan().pairs_per_wear == plan().can_show.enough_pairs_per_wear
    assert plan(asked(daily_cap=3)).pairs_per_wear == 30  # no more room under the cap
    assert plan(asked(pairs_per_wear=12)).pairs_per_wear == 12


def test_what_it_can_show_is_said_and_where_that_comes_from():
    told = document()
    told["model"]["spreads"]["direct"] = {"wear": {"value": 0.017}}
    guessed, known = plan(), plan(document=told)
    assert NOTE_STARTER in guessed.notes
    assert NOTE_STARTER not in known.notes
    assert f"{known.can_show.seen_4_of_5_points:.1f} points" in known.can_show.says[0]
    assert "4 times of 5" in known.can_show.says[0]


def test_rest_and_licence_are_said():
    assert NOTE_REST in plan().notes
    assert "common practice, no source" in NOTE_REST
    assert NOTE_OFF_LABEL.format(label(THIGH)) in plan(licensed_sites=[ARM]).notes
    assert not any("off-label" in note for note in plan(licensed_sites=[ARM, THIGH]).notes)


def test_it_holds_no_date_and_nothing_about_anybody():
    made = msgspec.to_builtins(plan())
    assert set(made) == {
        *("version", "sensor_model", "design", "rated_life_days", "pairs_per_wear", "n_days", "wears", "can_show"),
        "notes",
    }
    assert set(made["wears"][0]) == {"number", "site", "side", "label", "from_day", "to_day", "pricks"}
    assert msgspec.convert(made, type(plan())) == plan()


def test_rows_cover_every_change_and_every_fingerstick():
    made = plan()
    lines = rows(made)
    assert sum(line["do"].startswith("New sensor") for line in lines) == 4
    assert sum(str(line["after_waking"]).count(":") for line in lines) == 4 * made.pairs_per_wear
    assert [line["day"] for line in lines] == sorted(line["day"] for line in lines)


def test_what_cannot_be_planned_is_refused():
    with pytest.raises(PlanInvalid):
        plan(asked(pairs_per_wear=100))
