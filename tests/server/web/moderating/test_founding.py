import pytest

from server.groups.models import Group
from server.groups.selectors import protocol_of, role_of
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db
TOLD = {
    "name": "River walkers",
    "slug": "river-walkers",
    "description": "We walk along rivers.",
    "wearers": "adult",
    "public": "no",
    "feeds_everyone": "yes",
    "members": "12",
    "wears_a_month": "10",
    "sites": "3",
}


def test_the_odds_are_told_before_anything_is_founded(browser_of, stranger):
    answer = browser_of(stranger).post("/found/", TOLD | {"go": "odds"})
    assert (answer.status_code, Group.objects.filter(slug="river-walkers").exists()) == (200, False)
    assert "of 100 groups like this one" in words(answer)
    assert 'value="river-walkers"' in answer.content.decode()


def test_a_small_group_starts_as_a_room_and_its_founder_moderates_it(browser_of, stranger):
    answer = browser_of(stranger).post("/found/", TOLD | {"go": "found"})
    group = Group.objects.get(slug="river-walkers")
    assert "River walkers is founded" in words(answer)
    assert (protocol_of(group).room, role_of(stranger.account, group)) == (True, "moderator")
    assert browser_of(stranger).get("/groups/river-walkers/moderate/").status_code == 200


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"slug": "River Walkers"}, "small letters, digits and hyphens"),
        ({"feeds_everyone": ""}, "cannot be changed later"),
        ({"members": "many"}, "Type a whole number"),
        ({"slug": "everyone"}, "taken"),
    ],
)
def test_what_is_wrong_stands_beside_its_field_and_founds_nothing(browser_of, stranger, changed, said):
    answer = browser_of(stranger).post("/found/", TOLD | {"go": "found"} | changed)
    assert (answer.status_code, said in words(answer)) == (422, True)
    assert not Group.objects.filter(name="River walkers").exists()
    assert "We walk along rivers." in answer.content.decode()


def test_whoever_is_not_signed_in_is_asked_to(client, db):
    assert client.get("/found/")["Location"].startswith("/sign-in/")
