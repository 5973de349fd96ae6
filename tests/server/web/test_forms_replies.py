import pytest

from server.curation.standing import Asked
from server.curation.words import replies_to
from server.web.forms_replies import AnswerForm

pytestmark = pytest.mark.django_db


def asked(code):
    return Asked(code, "Is it?", replies_to(code), None)


@pytest.mark.parametrize(
    ("code", "value"),
    [
        ("site", "calf"),
        ("side", "left"),
        ("glucose_unit", "mmol/L"),
        ("end_reason", "fell_off"),
        ("sensor_model", "demo-a14"),
    ],
)
def test_a_tag_is_put_right_from_what_the_record_may_say(catalogue, code, value):
    form = AnswerForm({"answer": "corrected", "value": value}, asked=asked(code))
    assert form.is_valid(), form.errors
    assert form.as_told == {"answer": "corrected", "value": value}


def test_a_value_goes_with_no_other_answer():
    form = AnswerForm({"answer": "confirmed", "value": "calf"}, asked=asked("site"))
    assert form.is_valid()
    assert form.as_told["value"] is None


def test_where_nothing_can_be_put_right_no_value_is_asked_for():
    form = AnswerForm({"answer": "wrong"}, asked=asked("readings"))
    assert form.is_valid()
    assert "value" not in form.fields
