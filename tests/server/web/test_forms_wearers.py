from datetime import date

from server.web.forms_wearers import WearerForm


def test_of_an_adult_what_only_concerns_children_is_passed_over():
    form = WearerForm({"who": "adult", "of_age_month": "2040-05", "guardian": "on"})
    assert form.is_valid()
    assert form.as_told == {"relation": "other", "age_class": "adult"}


def test_a_month_may_be_typed_with_a_day():
    form = WearerForm({"who": "child", "of_age_month": "2040-05-17"})
    assert form.is_valid()
    assert form.as_told["of_age_month"] == date(2040, 5, 17)
