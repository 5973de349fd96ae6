import uuid

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction

from server.wears.models import Wear

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "change",
    [
        {"group_id": None},
        {"end_bucket": 24},
        {"end_bucket": 30, "first_end_bucket": 24},
        {"state": "counted"},
    ],
)
def test_the_database_refuses_what_cannot_go_together(give, contributor, change):
    wear = give(contributor)
    with pytest.raises(IntegrityError), transaction.atomic():
        Wear.objects.filter(pk=wear.pk).update(**change)


def test_a_private_wear_is_in_no_group(upload, contributor, group):
    wear = upload(contributor)
    with pytest.raises(IntegrityError), transaction.atomic():
        Wear.objects.filter(pk=wear.pk).update(group=group)


def test_an_admitted_wear_has_an_end(approve, contributor):
    wear = approve(contributor)
    with pytest.raises(IntegrityError), transaction.atomic():
        Wear.objects.filter(pk=wear.pk).update(previous_state="approved", state="admitted")


def test_ids_are_random(upload, contributor):
    ids = [upload(contributor, seed=seed).id for seed in range(5)]
    assert {one.version for one in ids} == {4}
    assert {one.variant for one in ids} == {uuid.RFC_4122}


def test_no_column_has_a_clock_time_or_a_person(upload, contributor):
    wear = upload(contributor)
    names = {str(contributor.account.id), contributor.sign_in_name}
    for model in apps.get_app_config("wears").get_models():
        for row in model.objects.values():
            assert not names & {str(value) for value in row.values()}
        kinds = {field.get_internal_type() for field in model._meta.concrete_fields}
        assert not kinds & {"DateTimeField", "TimeField"}
    assert wear.uploaded_month.day == wear.pairs.erase_on.day == 1


def test_texts_name_the_row_alone(upload, contributor):
    wear = upload(contributor)
    assert str(wear) == f"wear {wear.id}"
    assert str(wear.pairs) == f"pairs of {wear.id}"
    assert str(wear.summary) == f"summary of {wear.id}"
