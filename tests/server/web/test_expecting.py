import pytest

from server.groups.services import see_to_everyone
from server.wears.services import accept_upload
from tests.server.records import A_CHILD, raw
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db
ADDRESS = "/wears/next/"


@pytest.fixture
def browser(browser_of, contributor, catalogue):
    see_to_everyone()
    accept_upload(raw(), account=contributor.account, wearer=contributor.account.wearers.get())
    return browser_of(contributor)


@pytest.fixture
def told(contributor):
    return {
        "wearer": str(contributor.account.wearers.get().pk),
        "site": "calf",
        "sensor_model": "",
        "group": "everyone",
    }


def test_own_wears_and_figures_together_say_what_to_expect(browser, told):
    page = words(browser.post(ADDRESS, told))
    assert "Your own estimate: calf" in page
    assert "A single new wear, four in five" in page
    assert "nothing of it is stored" in page


def test_a_site_has_to_be_chosen(browser, told):
    answer = browser.post(ADDRESS, told | {"site": ""})
    assert (answer.status_code, "Choose a site" in words(answer)) == (422, True)


def test_a_wearer_and_a_group_are_ones_own(browser, told, stranger, member_of_another_group):
    for changed in ({"wearer": str(stranger.account.wearers.get().pk)}, {"group": "meadow"}):
        assert browser.post(ADDRESS, told | changed).status_code == 422


def test_no_person_stands_in_an_address(browser, contributor):
    from server.accounts.services import add_wearer

    child = add_wearer(contributor.account, **A_CHILD)
    page = browser.get(ADDRESS).content.decode()
    assert f'value="{child.pk}"' in page
    assert 'method="get"' not in page


def test_the_page_asks_the_database_little(browser, django_assert_max_num_queries):
    browser.get("/")
    with django_assert_max_num_queries(7):
        browser.get(ADDRESS)
