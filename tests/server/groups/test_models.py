from datetime import date

import pytest
from django.db import IntegrityError, transaction

from server.groups.models import Group, Membership, Protocol, Role

pytestmark = pytest.mark.django_db


def refused(act) -> bool:
    try:
        with transaction.atomic():
            act()
    except IntegrityError:
        return True
    return False


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("k", 4),
        ("k", 0),
        ("fewest_pairs", 7),
        ("widest_gap_min", 16),
        ("highest_rate_mg_dl_min", 0.0),
        ("first_day", "perhaps"),
        ("editions_before_model_given_up", 1),
        ("editions_before_site_given_up", 3),
        ("months_between_editions", 4),
        ("version", 0),
    ],
)
def test_the_database_holds_the_floors_of_a_protocol(group, field, value):
    assert refused(lambda: Protocol.objects.bulk_create([Protocol(group=group, **{"version": 2, field: value})]))


def test_the_floors_themselves_are_taken(group):
    Protocol.objects.bulk_create([Protocol(group=group, version=2, k=5, fewest_pairs=8, widest_gap_min=15)])
    assert Protocol.objects.filter(group=group).count() == 2


def test_a_version_is_written_once(group):
    assert refused(lambda: Protocol.objects.create(group=group, version=1))


def test_only_everyone_is_reserved_and_it_stays_public_and_fed(group):
    assert refused(lambda: Group.objects.filter(pk=group.pk).update(reserved=True))
    everyone = Group.objects.filter(slug="everyone")
    for change in ({"reserved": False}, {"public": False}, {"feeds_everyone": False}, {"slug": "all"}):
        assert refused(lambda change=change: everyone.update(**change))


def test_words_outside_the_lists_are_refused(group, contributor):
    assert refused(lambda: Group.objects.filter(pk=group.pk).update(wearers="some"))
    assert refused(lambda: Membership.objects.filter(group=group).update(role="owner"))
    assert refused(lambda: Membership.objects.create(group=group, account=contributor.account, role=Role.MEMBER))


def test_the_scope_of_everyone_is_its_name_and_of_a_group_its_id(group):
    assert group.scope == str(group.id)
    assert Group.objects.get(slug="everyone").scope == "everyone"


@pytest.mark.parametrize(
    ("rules", "part"),
    [
        ({}, None),
        ({"accepted_models": ["demo-a14"], "accepted_sites": ["calf"], "accepted_meter_classes": ["unknown"]}, None),
        ({"accepted_models": ["demo-b10"]}, "sensor_model"),
        ({"accepted_sites": ["chest", "forearm"]}, "site"),
        ({"accepted_meter_classes": ["within-10-pct"]}, "meter_class"),
    ],
)
def test_a_protocol_takes_every_wear_or_those_it_names(group, rules, part):
    described = {"sensor_model": "demo-a14", "site": "calf", "meter_class": "unknown"}
    assert Protocol(group=group, **rules).not_taken(described) == part


def test_texts_name_nobody(group, contributor):
    membership = Membership.objects.get(group=group, account=contributor.account)
    assert (str(group), str(membership)) == ("harbour", f"member {membership.id}")
    assert str(Protocol.objects.get(group=group)) == f"protocol 1 of {group.id}"
    assert group.founded_on == date(2031, 2, 10)
