import pytest

from server.curation.models import Decision
from server.curation.services import approve_wear
from server.groups.models import Group
from tests.server.records import pairs
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db
STUCK = [pair | {"sensor": 100} for pair in pairs(40)]


def queue_of(group):
    return f"/groups/{group.slug}/moderate/queue/"


@pytest.fixture
def odd(give, contributor):
    return give(contributor, pairs=STUCK)


def test_what_looks_odd_comes_first_and_what_is_clean_can_be_approved_together(
    browser_of, give, contributor, new_member, group, moderator, odd
):
    clean = give(contributor, seed=5)
    browser = browser_of(moderator)
    shown = browser.get(queue_of(group))
    assert "the sensor hardly moves" in words(shown)
    assert f'value="{clean.id}"' in shown.content.decode()
    assert f'value="{odd.id}"' not in shown.content.decode()
    answer = browser.post(f"{queue_of(group)}clean/", {"wear": [clean.id, odd.id]}, follow=True)
    assert "One wear is approved." in words(answer)
    assert "One was left as it is" in words(answer)
    clean.refresh_from_db()
    odd.refresh_from_db()
    assert (clean.state, odd.state) == ("approved", "queued")


@pytest.mark.parametrize(
    ("sent", "said", "state", "action"),
    [
        ({"action": "approve"}, "Approved.", "approved", "approve"),
        ({"action": "exclude", "code": "stuck", "question": "site"}, "Left out.", "excluded", "exclude"),
        ({"action": "ask", "question": "readings", "code": "stuck"}, "Its owner is asked", "asked", "ask"),
    ],
)
def test_a_decision_is_put_on_record(browser_of, moderator, group, odd, sent, said, state, action):
    answer = browser_of(moderator).post(f"{queue_of(group)}{odd.id}/", sent, follow=True)
    odd.refresh_from_db()
    assert (said in words(answer), odd.state) == (True, state)
    assert Decision.objects.get().action == action
    assert action in words(browser_of(moderator).get(f"/groups/{group.slug}/moderate/record/")).lower()


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({}, "Choose what is to become of it"),
        ({"action": "exclude"}, "Choose why it is left out"),
        ({"action": "ask"}, "Choose what its owner is asked"),
    ],
)
def test_what_is_missing_is_said_and_nothing_is_decided(browser_of, moderator, group, odd, sent, said):
    answer = browser_of(moderator).post(f"{queue_of(group)}{odd.id}/", sent)
    assert (answer.status_code, said in words(answer)) == (422, True)
    assert not Decision.objects.exists()


def test_who_comes_second_is_told_what_happened(browser_of, moderator, second_moderator, group, odd):
    approve_wear(group, odd.id, by=second_moderator.account)
    answer = browser_of(moderator).post(f"{queue_of(group)}{odd.id}/", {"action": "exclude", "code": "stuck"})
    assert "approved meanwhile" in words(answer)
    odd.refresh_from_db()
    assert odd.state == "approved"


@pytest.mark.parametrize(
    ("sent", "became", "stands"),
    [
        ({"action": "approve"}, "approved", "It is approved"),
        ({"action": "exclude", "code": "stuck"}, "left out", "It is left out"),
        ({"action": "ask", "question": "readings"}, "its owner is asked", "Its owner is asked"),
    ],
)
def test_a_slip_is_found_in_the_queue_and_undone(browser_of, moderator, group, odd, sent, became, stands):
    browser, page = browser_of(moderator), f"{queue_of(group)}{odd.id}/"
    assert 'value="undo"' not in browser.get(page).content.decode()
    queue = browser.post(page, sent, follow=True)
    assert f'href="{page}"' in queue.content.decode()
    assert became in words(queue)
    shown = browser.get(page)
    assert stands in words(shown)
    assert [f'value="{action}"' in shown.content.decode() for action in ("approve", "ask", "exclude", "undo")] == [
        False,
        False,
        False,
        True,
    ]
    assert "Decided since" not in words(browser.post(page, {"action": "undo"}, follow=True))
    odd.refresh_from_db()
    assert odd.state == "queued"


def test_a_small_group_sees_no_reading_and_a_large_one_rounded_ones(browser_of, moderator, group, odd, monkeypatch):
    page = f"{queue_of(group)}{odd.id}/"
    assert "single readings are shown to none" in words(browser_of(moderator).get(page))
    monkeypatch.setattr("server.curation.queues.band_of", lambda _: "25_to_99")
    shown = browser_of(moderator).get(page).content.decode()
    assert shown.count("<circle") > 3
    assert '<td class="number">100.0</td>' in shown


def test_a_page_of_a_wear_tells_no_owner(browser_of, moderator, contributor, group, odd):
    shown = browser_of(moderator).get(f"{queue_of(group)}{odd.id}/").content.decode()
    for secret in (contributor.sign_in_name, str(contributor.account.id)):
        assert secret not in shown
    assert 'id="caution"' in shown


def test_a_list_that_is_none_of_ours_is_refused(browser_of, moderator, group):
    assert browser_of(moderator).post(f"{queue_of(group)}clean/", {"wear": "all"}).status_code == 422


@pytest.mark.parametrize("after", ["-1", "x", "1" * 12])
def test_a_place_in_the_record_is_a_number(browser_of, moderator, group, after):
    address = f"/groups/{group.slug}/moderate/record/?after={after}"
    assert browser_of(moderator).get(address).status_code == 422


def test_an_empty_queue_says_so(browser_of, moderator, group):
    assert Group.objects.count() > 0
    assert "nothing to decide about" in words(browser_of(moderator).get(queue_of(group)))
