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


@pytest.fixture
def place(browser_of, moderator, contributor, group, opening):
    """A contributor's place in a round that has begun."""
    browser_of(moderator).post(rounds_of(group), opening)
    opened = rounds_for_member(group, account=contributor.account)[0]
    browser_of(contributor).post(f"{rounds_of(group)}{opened.id}/")
    return rounds_for_member(group, account=contributor.account)[0]


def test_a_place_is_chosen_in_the_form_about_a_wear(browser_of, contributor, stranger, group, place):
    sent = {"drafts": '[{"label": "", "record": {"pairs": []}}]'}
    page = browser_of(contributor).post("/wears/new/about/", sent)
    assert f'<option value="{place.plan}">joint round of {group.name}' in page.content.decode()
    assert place.plan not in browser_of(stranger).post("/wears/new/about/", sent).content.decode()


def test_my_wears_say_when_a_round_waits_for_one(browser_of, contributor, upload, place):
    first, second = place.order
    waits = "A round waits for your wear at:"
    assert waits in words(browser_of(contributor).get("/wears/"))
    told = {"sensor_model": place.sensor_model, "assignment": "randomised", "plan": place.plan}
    wear = upload(contributor, site=first, **told)
    page = words(browser_of(contributor).get("/wears/"))
    assert waits in page
    assert page.count("joint round of") == 1  # where the wear is said to be from it
    assert "joint round of" in words(browser_of(contributor).get(f"/wears/{wear.pk}/"))
    upload(contributor, site=second, seed=2, **told)
    assert waits not in words(browser_of(contributor).get("/wears/"))
