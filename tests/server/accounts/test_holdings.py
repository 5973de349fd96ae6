import pytest

from server.accounts.holdings import held_about, labels_of
from server.accounts.selectors import wearers_of
from server.accounts.services import link_labels

pytestmark = pytest.mark.django_db


def test_what_is_held_is_told_without_what_would_sign_anybody_in(stranger, client):
    client.force_login(stranger.account)
    held = held_about(stranger.account)
    assert held["account"]["n_recovery_codes_left"] == 6
    assert (len(held["account"]["signed_in_until"]), len(held["account"]["browsers_until"])) == (1, 1)
    assert [(entry["scope"], entry["given"]) for entry in held["consents"]] == [("keep", True), ("pool", True)]
    assert [wearer["relation"] for wearer in held["wearers"]] == ["self"]
    assert stranger.account.password not in str(held)


def test_labels_are_those_of_the_account_alone(stranger, contributor):
    own, others = (wearers_of(member.account)[0] for member in (stranger, contributor))
    link_labels([(own.pk, stranger.account.pk, own.pk), (others.pk, contributor.account.pk, others.pk)])
    assert labels_of(stranger.account) == {own.pk: own.pk}
