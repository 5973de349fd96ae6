from datetime import date

import pytest

from server.groups.services import found_group

pytestmark = pytest.mark.django_db

ODDS = "/api/v1/group-odds/"
TYPED = {"members": 6, "wears_a_month": 3, "sites": 2, "months": 2}


def ask(member, wear, slug="harbour"):
    return member.api.get(f"/api/v1/wears/{wear.pk}/disclosure/?group={slug}")


def test_an_owner_reads_what_could_be_learned(contributor, upload, settings):
    settings.FIRST_CUT_OFF = date(2031, 3, 1)
    answer = ask(contributor, upload(contributor, site="calf"))
    assert answer.status_code == 200
    told = answer.json()
    assert [step["place"] for step in told["steps"]] == ["calf", "calf", "calf", "calf", "other"]
    assert told["steps"][0]["fewest_people"]["accuracy"] == 5
    assert [onlooker["who"] for onlooker in told["onlookers"]][-1] == "a court"
    assert told["stays"]["until_if_counted_next"] == "2033-02-01"  # the 24th date
    assert "fewer than 25" in told["small_group"]
    assert "off-label" in told["caution"]["text"]


def test_only_of_groups_that_one_may_read(contributor, member_of_another_group, upload):
    found_group(
        founder=member_of_another_group.account,
        slug="hideout",
        name="Hideout",
        feeds_everyone=True,
        wearers="mixed",
    )
    wear = upload(contributor)
    hidden, missing, unnamed = (ask(contributor, wear, slug) for slug in ("hideout", "nowhere", ""))
    assert hidden.status_code == 404
    assert hidden.content == missing.content == unnamed.content


def test_asking_gives_nothing(contributor, upload):
    wear = upload(contributor)
    ask(contributor, wear)
    assert contributor.api.get(f"/api/v1/wears/{wear.pk}/").json()["state"] == "private"


def test_odds_come_from_typed_numbers(stranger):
    answer = stranger.api.post(ODDS, TYPED)
    assert answer.status_code == 200
    told = answer.json()
    assert told["n_runs"] == 100
    assert all(told[name] % 5 == 0 for name in ("any_site_row_pct", "given_site_row_pct", "still_waiting_pct"))
    assert len(told["assumed"]) == 4


@pytest.mark.parametrize("typed", [{}, TYPED | {"members": 0}, TYPED | {"sites": 1}, TYPED | {"waiting": 3}], ids=str)
def test_odds_of_senseless_numbers_are_refused(stranger, typed):
    assert stranger.api.post(ODDS, typed).status_code == 422


def test_odds_are_for_those_signed_in(api):
    assert api.post(ODDS, TYPED, format="json").status_code == 401
