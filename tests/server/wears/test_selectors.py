import uuid

import pytest

from server.accounts.services import add_wearer, record_consent
from server.core.errors import NotFound, ServiceError
from server.core.models import SensorModel
from server.wears import selectors
from server.wears.cutoff import mark_waiting_slot
from server.wears.models import WearPairs
from server.wears.services import give_to_group
from tests.server.records import A_CHILD

pytestmark = pytest.mark.django_db


def test_a_wear_is_read_by_its_owner_and_by_nobody_else(upload, contributor, moderator):
    wear = upload(contributor)
    assert selectors.wear_for_owner(wear.id, account=contributor.account) == wear
    for wear_id, account in ((wear.id, moderator.account), (uuid.uuid4(), contributor.account)):
        with pytest.raises(NotFound) as refused:
            selectors.wear_for_owner(wear_id, account=account)
        assert refused.value.detail == selectors.NO_SUCH_WEAR


def test_own_wears_stand_in_the_order_of_their_random_ids(upload, contributor, moderator):
    ids = [upload(contributor, seed=seed).id for seed in range(6)]
    upload(moderator, seed=7)
    assert [wear.id for wear in selectors.wears_of(contributor.account)] == sorted(ids)


def test_the_report_is_there_as_long_as_the_readings_are(upload, contributor):
    wear = upload(contributor)
    assert selectors.report_for_owner(wear.id, account=contributor.account)["n_pairs"] == 20
    WearPairs.objects.all().delete()
    with pytest.raises(NotFound, match="erased on the date"):
        selectors.report_for_owner(wear.id, account=contributor.account)


@pytest.mark.parametrize(
    ("licensed", "relation", "status"),
    [
        ([{"site": "thigh.front", "ages": "all"}], "self", "named"),
        ([{"site": "thigh.front", "ages": "adult"}], "child", "off_label_for_age"),
        ([{"site": "upper_arm.back", "ages": "all"}], "self", "off_label"),
    ],
)
def test_the_report_says_what_the_catalogue_knows_of_the_site(upload, contributor, licensed, relation, status):
    wearer = None
    if relation == "child":
        wearer = add_wearer(contributor.account, **A_CHILD)
    wear = upload(contributor, wearer=wearer)
    SensorModel.objects.filter(slug=wear.header["sensor_model"]).update(licensed_sites=licensed)
    report = selectors.report_for_owner(wear.id, account=contributor.account)
    assert report["licence"]["status"] == status


def test_waiting_wears_say_where_they_would_count_and_whether_they_may(approve, contributor, group):
    wear, short = approve(contributor), approve(contributor, n_pairs=7, seed=2)
    mark_waiting_slot(slot=1)
    waiting = {found.wear_id: found for found in selectors.waiting_wears()}
    assert waiting[wear.id].scope == str(group.id)
    assert (waiting[wear.id].site, waiting[wear.id].sensor_model) == ("thigh.front", "demo-a14")
    assert (waiting[wear.id].meets_rules, waiting[short.id].meets_rules) == (True, False)


def test_nothing_is_given_without_consent_to_pooling(upload, contributor, group):
    record_consent(contributor.account, scope="pool", given=False, text_version=1)
    with pytest.raises(ServiceError, match="switch"):
        give_to_group(upload(contributor).id, account=contributor.account, group=group)
