import pytest

from server.core.errors import Fault, Invalid
from server.web.forms_wears import WearForm, initial_of

pytestmark = pytest.mark.django_db
TOLD = {
    "wearer": "w",
    "site": "calf",
    "sensor_model": "demo-a14",
    "worn_days": "2",
    "end_reason": "fell_off",
    "assignment": "chosen",
}


@pytest.fixture
def filled(catalogue):
    def fill(**told):
        form = WearForm(TOLD | told, wearers={"w": "me"}, plans={"f" * 32: "calf and chest"})
        assert form.is_valid(), form.errors
        return form

    return fill


def test_what_was_not_asked_is_left_open(filled):
    record = filled().record({"pairs": []})
    assert (record["skin"], record["ratings"], record["side"], record["plan"]) == (None, None, None, None)
    assert record["conditions"]["near_insulin_site"] is None
    assert record["worn_min"] == 2880


def test_all_that_can_be_told_goes_into_the_record(filled):
    told = {
        "skin_grade": "2", "skin_signs": ["itch"], "ease": "0", "rated_by": "carer", "near_insulin_site": "no",
        "prepared": ["washed"], "event-1": "knock", "event_day-1": "2", "side": "left", "calibrated": "yes",
    }  # fmt: skip
    record = filled(**told).record({"pairs": []})
    assert record["skin"] == {"grade": 2, "signs": ["itch"]}
    assert record["ratings"] == {"ease": 0, "comfort": None, "discretion": None, "rated_by": "carer"}
    assert record["conditions"]["near_insulin_site"] is False
    assert record["events"] == [{"kind": "knock", "elapsed_min": 1440}]
    assert (record["side"], record["calibrated"]) == ("left", True)


def test_the_minute_that_exports_know_stays_unless_another_hour_is_typed(filled):
    assert filled().record({"worn_min": 2899, "pairs": []})["worn_min"] == 2899
    assert filled(worn_hours="5").record({"worn_min": 2899, "pairs": []})["worn_min"] == 3180
    assert initial_of({"worn_min": 2899, "site": "calf"}) == {"site": "calf", "worn_days": 2, "worn_hours": 0}


def test_faults_of_the_record_stand_beside_their_fields_and_those_of_pairs_above(filled):
    form = filled()
    form.refuse(
        Invalid(faults=[Fault(pointer="#/worn_min", message="too short"), Fault(pointer="#/skin/grade", message="no")])
    )
    form.refuse(Invalid(faults=[Fault(pointer="#/pairs/3/site", message="strange")]))
    assert (form.errors["worn_days"], form.errors["skin_grade"]) == (["Too short"], ["No"])
    assert form.non_field_errors() == ["Strange"]


def test_a_plan_of_the_list_goes_before_one_that_was_typed(filled):
    assert filled(registered="f" * 32, plan="typed").record({"pairs": []})["plan"] == "f" * 32
    assert filled(plan=" typed ").record({"pairs": []})["plan"] == "typed"


def test_what_a_notebook_noted_fills_the_form():
    draft = {
        "end_reason": "completed",
        "skin": {"grade": 0, "signs": ["itch"]},
        "events": [{"kind": "edge_lift", "elapsed_min": 2880}, {"kind": "knock", "elapsed_min": 0}],
    }
    assert initial_of(draft) == {
        "end_reason": "completed",
        "skin_grade": "0",
        "skin_signs": ["itch"],
        "event-1": "edge_lift",
        "event_day-1": 3,
        "event-2": "knock",
        "event_day-2": 1,
    }


NO_LENGTHS = ["x", "2899", [2899], {}, 2899.5, True, -5, 0, 43_201, 10**300, float("inf"), float("nan"), None]


@pytest.mark.parametrize("odd", NO_LENGTHS)
def test_a_length_that_no_wear_has_is_asked_for_again(filled, odd):
    assert initial_of({"worn_min": odd, "site": "calf"}) == {"site": "calf"}
    assert filled().record({"worn_min": odd, "pairs": []})["worn_min"] == 2880


ODD_DRAFTS = [
    {"skin": "x"},
    {"skin": {"grade": "x"}},
    {"skin": {"grade": 10**300}},
    {"skin": {"grade": []}},
    {"events": 3},
    {"events": ["x"]},
    {"site": ["calf"]},
    {"end_reason": 3},
    {"calibrated": "no"},
]


@pytest.mark.parametrize("odd", ODD_DRAFTS)
def test_what_no_notebook_wrote_fills_nothing(odd):
    assert initial_of(odd) == {}
