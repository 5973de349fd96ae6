import pytest

from server.accounts.selectors import has_consented, wearers_of
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db
CHILD = {"who": "child", "of_age_month": "2040-05", "guardian": "on"}


@pytest.mark.parametrize(
    ("told", "relation", "age_class"),
    [
        ({"who": "adult", "of_age_month": "2040-05"}, "other", "adult"),
        (CHILD, "child", "child"),
        (CHILD | {"who": "other-child", "of_age_month": "2040-05-17"}, "other", "child"),
    ],
)
def test_somebody_is_added(browser_of, stranger, told, relation, age_class):
    browser = browser_of(stranger)
    assert browser.post("/account/wearers/", told)["Location"] == "/account/wearers/"
    added = next(wearer for wearer in wearers_of(stranger.account) if wearer.relation != "self")
    assert (added.relation, added.age_class) == (relation, age_class)
    assert has_consented(stranger.account, "guardian") is (age_class == "child")
    if age_class == "child":
        assert "of age from May 2040" in words(browser.get("/account/wearers/"))


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({}, "Choose one"),
        (CHILD | {"of_age_month": "soon"}, "Type year and month"),
        (CHILD | {"of_age_month": "2001-05"}, "still to come"),
        ({"who": "child", "of_age_month": "2040-05"}, "as a parent or guardian"),
    ],
)
def test_what_is_wrong_is_said(browser_of, stranger, told, said):
    answer = browser_of(stranger).post("/account/wearers/", told)
    assert (answer.status_code, said in words(answer)) == (422, True)
    assert len(wearers_of(stranger.account)) == 1
