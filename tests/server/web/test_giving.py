import pytest

from server.accounts.agreements import record_consent
from server.accounts.consents import CONSENT_VERSION
from server.curation import services as curation
from server.wears.cutoff import show_states
from server.wears.models import Wear
from server.wears.services import accept_upload, give_to_group
from tests.server.records import raw
from tests.server.releasing import release
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db


@pytest.fixture
def wear(contributor, catalogue):
    return accept_upload(raw(), account=contributor.account, wearer=contributor.account.wearers.get()).wear


@pytest.fixture
def given(wear, contributor, group):
    give_to_group(wear.pk, account=contributor.account, group=group)
    return wear


@pytest.fixture
def browser(browser_of, contributor):
    return browser_of(contributor)


def state(wear):
    return Wear.objects.filter(pk=wear.pk).values_list("state", flat=True).first()


def test_before_it_is_given_what_anybody_could_learn_is_read(browser, wear, group):
    choice = words(browser.get(f"/wears/{wear.pk}/give/"))
    assert "Harbour" in choice
    assert "Everyone" in choice
    told = words(browser.get(f"/wears/{wear.pk}/give/", {"group": group.slug}))
    for said in ("What could anyone learn about you in Harbour?", "An employer or insurer", "would end on"):
        assert said in told
    assert state(wear) == "private"
    answer = browser.post(f"/wears/{wear.pk}/give/", {"group": group.slug})
    assert answer["Location"] == f"/wears/{wear.pk}/"
    assert state(wear) == "queued"


def test_without_the_switch_the_page_leads_to_it(browser, wear, contributor, group):
    record_consent(contributor.account, scope="pool", given=False, text_version=CONSENT_VERSION)
    page = browser.get(f"/wears/{wear.pk}/give/", {"group": group.slug})
    assert 'href="/account/agreed/pool/"' in page.content.decode()
    assert browser.post(f"/wears/{wear.pk}/give/", {"group": group.slug}).status_code == 409


def test_a_group_that_one_does_not_belong_to_is_not_given_to(browser, wear, member_of_another_group):
    assert browser.post(f"/wears/{wear.pk}/give/", {"group": "meadow"}).status_code == 409
    assert browser.post(f"/wears/{wear.pk}/give/", {"group": "no-such"}).status_code == 404


def test_what_waits_is_ones_own_again(browser, given):
    assert "has not been counted" in words(browser.get(f"/wears/{given.pk}/take-back/"))
    assert state(given) == "queued"
    assert browser.post(f"/wears/{given.pk}/take-back/")["Location"] == f"/wears/{given.pk}/"
    assert state(given) == "private"


def test_what_was_counted_is_erased_by_taking_it_back_and_that_is_said_before(browser, given):
    Wear.objects.filter(pk=given.pk).update(
        state="admitted", previous_state="approved", shown_state="admitted", first_end_bucket=24, end_bucket=24
    )
    assert "erases its readings" in words(browser.get(f"/wears/{given.pk}/take-back/"))
    assert browser.post(f"/wears/{given.pk}/take-back/")["Location"] == "/wears/"
    assert state(given) is None
    assert "all that was yours of it is erased" in words(browser.get("/wears/"))


def test_erasing_says_what_it_does_and_does_it(browser, wear):
    assert "now and for good" in words(browser.get(f"/wears/{wear.pk}/erase/"))
    assert state(wear) == "private"
    assert browser.post(f"/wears/{wear.pk}/erase/")["Location"] == "/wears/"
    assert state(wear) is None


def test_a_question_is_answered_and_what_was_wrong_put_right(browser, given, group, moderator):
    release(given.pk)
    curation.ask_owner(group, given.pk, question="site", by=moderator.account)
    assert "Please check the site" in words(browser.get(f"/wears/{given.pk}/"))
    page = words(browser.get(f"/wears/{given.pk}/answer/"))
    assert "The record says: front of the thigh" in page
    for told in ({}, {"answer": "corrected"}):
        assert browser.post(f"/wears/{given.pk}/answer/", told).status_code == 422
    told = {"answer": "corrected", "value": "calf"}
    assert browser.post(f"/wears/{given.pk}/answer/", told)["Location"] == f"/wears/{given.pk}/"
    assert Wear.objects.get(pk=given.pk).header["site"] == "calf"
    assert browser.get(f"/wears/{given.pk}/answer/")["Location"] == f"/wears/{given.pk}/"


def test_a_wear_that_was_left_out_is_appealed_for_once(browser, given, group, moderator):
    release(given.pk)
    curation.exclude_wear(group, given.pk, code="stuck", by=moderator.account)
    show_states()
    page = words(browser.get(f"/wears/{given.pk}/"))
    assert "showed nearly the same number" in page
    assert "Appeal" in page
    assert browser.post(f"/wears/{given.pk}/appeal/", {"ground": "because"}).status_code == 422
    assert browser.post(f"/wears/{given.pk}/appeal/", {"ground": "readings_right"}).status_code == 302
    assert state(given) == "queued"
