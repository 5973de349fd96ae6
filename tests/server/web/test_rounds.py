import pytest

from server.groups.rounds import rounds_for_member
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def opening(catalogue, clock):
    """What a moderator types to open a round in the month that it is."""
    from server.core import clock as today

    return {
        "sensor_model": catalogue[0],
        "site_a": "calf",
        "site_b": "chest",
        "start_month": f"{today.today():%Y-%m}",
    }


def rounds_of(group):
    return f"/my-groups/{group.slug}/rounds/"


def test_a_round_is_opened_joined_and_gives_an_order(browser_of, moderator, contributor, group, opening):
    assert browser_of(moderator).post(rounds_of(group), opening)["Location"] == rounds_of(group)
    opened = rounds_for_member(group, account=contributor.account)[0]
    answer = browser_of(contributor).post(f"{rounds_of(group)}{opened.id}/", follow=True)
    mine = rounds_for_member(group, account=contributor.account)[0]
    assert set(mine.order) == {"calf", "chest"}
    assert mine.plan in words(answer)
    assert mine.plan not in words(browser_of(moderator).get(rounds_of(group)))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"sensor_model": ""}, "Choose one"),
        ({"start_month": "soon"}, "Type year and month"),
        ({"start_month": "2037-13"}, "Type year and month"),
        ({"site_b": "calf"}, "Name two sites"),
    ],
)
def test_what_is_wrong_opens_nothing(browser_of, moderator, group, opening, changed, said):
    answer = browser_of(moderator).post(rounds_of(group), opening | changed)
    assert (answer.status_code, said in words(answer)) == (422, True)
    assert rounds_for_member(group, account=moderator.account) == []


def test_members_open_none_and_strangers_see_none(browser_of, contributor, stranger, group, opening):
    assert "Open a round" not in words(browser_of(contributor).get(rounds_of(group)))
    assert browser_of(contributor).post(rounds_of(group), opening).status_code == 422
    assert browser_of(stranger).get(rounds_of(group)).status_code == 404
