from datetime import date

import pytest

from server.accounts.selectors import has_consented, wearers_of
from server.accounts.services import add_wearer
from server.web.wearers import own_names
from tests.server.records import A_CHILD
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


def test_two_children_and_twins_are_told_apart_without_a_name(stranger):
    first = add_wearer(stranger.account, **A_CHILD | {"of_age_month": date(2041, 3, 1)})
    assert own_names(stranger.account)[str(first.pk)] == "my child"
    second, twin = (add_wearer(stranger.account, **A_CHILD | {"of_age_month": date(2043, 9, 1)}) for _ in range(2))
    names = own_names(stranger.account)
    assert names[str(first.pk)] == "my child, of age from March 2041"
    assert names[str(second.pk)] == f"my child, of age from September 2043 ({str(second.pk)[:4]})"
    assert len(set(names.values())) == 4
    assert str(twin.pk)[:4] in names[str(twin.pk)]
