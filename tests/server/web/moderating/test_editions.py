import pytest

from server.editions.models import Draft, Edition
from server.editions.services import publish_draft
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db


def editions_of(group):
    return f"/groups/{group.slug}/moderate/editions/"


def draft_of(draft):
    return f"/groups/{draft.group.slug}/moderate/drafts/{draft.pk}/"


def test_a_draft_is_started_watched_and_published(browser_of, sealed):
    browser = browser_of(sealed.moderator)
    assert "Work out a draft" in words(browser.get(editions_of(sealed.group)))
    address = browser.post(f"{editions_of(sealed.group)}draft/")["Location"]
    assert "0 of" in words(browser.get(address))
    sealed.run_due_jobs()
    ready = words(browser.get(address))
    for said in (
        "what would be published",
        "front of the thigh",
        "Sites without a row",
        "Can it be believed",
        "Publish",
    ):
        assert said in ready
    answer = browser.post(f"{address}publish/", follow=True)
    assert "These figures stand from now on" in words(answer)
    assert f'href="/groups/{sealed.group.slug}/editions/1/"' in answer.content.decode()
    assert Edition.objects.get().number == 1


def test_a_draft_that_cannot_be_started_is_not_offered(browser_of, sealed, moderator, group):
    browser = browser_of(sealed.moderator)
    publish_draft(sealed.group, sealed.draft().pk, by=sealed.moderator.account)
    page = words(browser.get(editions_of(sealed.group)))
    assert "Edition 1 is published. The next can be drafted after" in page
    assert "Work out a draft" not in page


def test_before_the_first_date_there_is_nothing_to_draft(browser_of, moderator, group, catalogue):
    page = words(browser_of(moderator).get(editions_of(group)))
    assert "There is nothing to draft yet" in page
    assert "Work out a draft" not in page


def test_the_page_shows_nothing_that_would_not_be_published(browser_of, sealed):
    draft = sealed.draft()
    shown = words(browser_of(sealed.moderator).get(draft_of(draft)))
    assert "at least 5 people" in shown
    assert "6 people" not in shown


def test_a_draft_can_be_discarded(browser_of, sealed):
    draft = sealed.draft()
    browser_of(sealed.moderator).post(f"{draft_of(draft)}discard/")
    draft.refresh_from_db()
    assert draft.state == "discarded"


def test_two_people_publish(browser_of, sealed, two_people, second_moderator):
    draft = sealed.draft()
    browser = browser_of(sealed.moderator)
    assert "Propose these figures" in words(browser.get(draft_of(draft)))
    assert "Another moderator has to agree" in words(browser.post(f"{draft_of(draft)}publish/", follow=True))
    assert browser.post(f"{draft_of(draft)}publish/").status_code == 409
    assert "A moderator has proposed it" in words(browser_of(second_moderator).get(draft_of(draft)))
    browser_of(second_moderator).post(f"{draft_of(draft)}publish/")
    assert Edition.objects.exists()


def test_a_draft_that_a_cut_off_has_overtaken_says_so_and_is_not_published(browser_of, sealed):
    draft = sealed.draft()
    sealed.cut_off(2)
    browser = browser_of(sealed.moderator)
    answer = browser.get(draft_of(draft))
    assert "A later date has passed" in words(answer)
    assert "Publish these figures" not in words(answer)
    assert browser.post(f"{draft_of(draft)}publish/").status_code == 409
    assert Draft.objects.get(pk=draft.pk).document is not None


def test_figures_are_taken_back_with_a_reason(browser_of, sealed):
    publish_draft(sealed.group, sealed.draft().pk, by=sealed.moderator.account)
    browser = browser_of(sealed.moderator)
    address = f"{editions_of(sealed.group)}1/take-back/"
    assert "cannot be undone" in words(browser.get(address))
    assert browser.post(address).status_code == 422
    assert browser.get(address.replace("/1/", "/2/")).status_code == 404
    assert "Taken back" in words(browser.post(address, {"reason": "wrong_data"}, follow=True))
    assert browser.get(f"/groups/{sealed.group.slug}/editions/1/").status_code == 410


@pytest.mark.parametrize("page", ["editions/", "record/", "queue/"])
def test_moderators_alone_see_these_pages(browser_of, moderator, contributor, stranger, group, catalogue, page):
    address = f"/groups/{group.slug}/moderate/{page}"
    assert [browser_of(one).get(address).status_code for one in (moderator, contributor, stranger)] == [200, 403, 404]
