import pytest

from server.groups.selectors import protocol_of
from server.groups.services import PROTOCOL_FIELDS
from tests.server.web.test_sign_in import words

pytestmark = pytest.mark.django_db
PAGES = ("", "description/", "rules/", "people/")


def as_sent(protocol):
    """What a browser sends of the rules that hold: nothing for what is not ticked or empty."""
    rules = {name: getattr(protocol, name) for name in PROTOCOL_FIELDS}
    return {name: "on" if rule is True else rule for name, rule in rules.items() if rule not in (None, False)}


def test_rules_that_are_sent_as_they_stand_make_no_new_version(browser_of, moderator, group, catalogue):
    browser_of(moderator).post(f"/groups/{group.slug}/moderate/rules/", as_sent(protocol_of(group)))
    assert protocol_of(group).version == 1


def test_changed_rules_are_a_new_version(browser_of, moderator, group, catalogue):
    sent = as_sent(protocol_of(group)) | {"fewest_pairs": "12", "accepted_sites": ["calf", "chest"]}
    answer = browser_of(moderator).post(f"/groups/{group.slug}/moderate/rules/", sent, follow=True)
    now = protocol_of(group)
    assert (now.version, now.fewest_pairs, now.accepted_sites) == (2, 12, ["calf", "chest"])
    assert "Version 2 of the rules" in words(answer)


def test_every_rule_stands_on_the_page(browser_of, moderator, group, catalogue):
    shown = browser_of(moderator).get(f"/groups/{group.slug}/moderate/rules/").content.decode()
    assert [name for name in PROTOCOL_FIELDS if f'name="{name}"' not in shown] == []


def test_the_queue_is_handed_up(browser_of, moderator, group, catalogue):
    sent = as_sent(protocol_of(group)) | {"curated_by_everyone": "on"}
    browser_of(moderator).post(f"/groups/{group.slug}/moderate/rules/", sent)
    assert protocol_of(group).curated_by_everyone


@pytest.mark.parametrize(
    ("changed", "said"),
    [({"k": "4"}, "greater than or equal to 5"), ({"widest_gap_min": "soon"}, "Type a whole number")],
)
def test_a_rule_below_its_floor_is_refused(browser_of, moderator, group, catalogue, changed, said):
    answer = browser_of(moderator).post(f"/groups/{group.slug}/moderate/rules/", as_sent(protocol_of(group)) | changed)
    assert (answer.status_code, said in words(answer), protocol_of(group).version) == (422, True, 1)


def test_a_refusal_of_the_service_stands_beside_its_rule(browser_of, moderator, group, catalogue):
    rules = f"/groups/{group.slug}/moderate/rules/"
    browser_of(moderator).post(rules, as_sent(protocol_of(group)) | {"k": "7"})
    answer = browser_of(moderator).post(rules, as_sent(protocol_of(group)) | {"k": "6"})
    assert (answer.status_code, "never lowered" in words(answer)) == (422, True)


def test_rules_are_tried_without_being_set(browser_of, moderator, group, catalogue):
    rules = f"/groups/{group.slug}/moderate/rules/"
    trying = as_sent(protocol_of(group)) | {"fewest_pairs": "30", "go": "try"}
    assert "too few people" in words(browser_of(moderator).post(rules, trying))
    assert "once a day" in words(browser_of(moderator).post(rules, trying | {"fewest_pairs": "40"}))
    assert protocol_of(group).version == 1


def test_name_and_description_are_changed(browser_of, moderator, group):
    sent = {"name": "Hill people", "description": "Up and down."}
    browser_of(moderator).post(f"/groups/{group.slug}/moderate/description/", sent)
    group.refresh_from_db()
    assert (group.name, group.description) == ("Hill people", "Up and down.")


@pytest.mark.parametrize("page", PAGES)
def test_moderators_alone_see_these_pages(browser_of, moderator, contributor, stranger, group, catalogue, page):
    address = f"/groups/{group.slug}/moderate/{page}"
    seen = [browser_of(one).get(address).status_code for one in (moderator, contributor, stranger)]
    assert seen == [200, 403, 404]
    assert "block" not in words(browser_of(moderator).get(address))
