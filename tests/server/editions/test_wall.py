"""Behind the wall the database answers about sums and refuses people; on either database, and however it is asked."""

from uuid import uuid4

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction

from server.accounts.models import Account, Holding
from server.core import grants
from server.core.models import Job
from server.core.register import rights_of_figures
from server.core.services import run_job
from server.editions import fitting, wall
from server.editions.models import Draft, DraftState, Edition, FitPart, Place, SealedRecord
from server.editions.services import publish_draft, start_draft
from server.editions.wall import sums_only
from server.groups.models import Group, Membership
from server.wears.models import Wear, WearPairs, WearSummary

HIDDEN = (Wear, WearPairs, WearSummary, Holding, Account, Membership)
ROLE = f"figures {uuid4().hex[:12]}"


@pytest.fixture(params=["as it comes", "in a role"])
def walled(request, db, settings):
    """The wall without and with a role of the database; SQLite has none, and its connection refuses both times."""
    if request.param == "in a role" and connection.vendor == "postgresql":
        settings.FIT_ROLE = ROLE
        grants.apply()


def ask(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.fetchall()


@pytest.mark.parametrize("model", HIDDEN, ids=lambda model: model.__name__)
@pytest.mark.parametrize(
    "touch",
    [
        lambda model: list(model.objects.all()),
        lambda model: model.objects.count(),
        lambda model: model.objects.all()._raw_delete("default"),
        lambda model: ask(f'SELECT count(*) FROM "{model._meta.db_table}" AS w, "editions_slot"'),
        lambda model: ask(f'SELECT 1 FROM "editions_slot" WHERE EXISTS (SELECT * FROM "{model._meta.db_table}")'),
    ],
    ids=["rows", "count", "deletion", "join", "inner query"],
)
def test_people_are_out_of_reach(walled, model, touch):
    with pytest.raises(DatabaseError), transaction.atomic(), sums_only():
        touch(model)
    assert model.objects.count() == 0


def test_each_other_table_is_out_of_reach_whatever_it_is(walled):
    for table in sorted(wall.out_of_reach()):
        with pytest.raises(DatabaseError), transaction.atomic(), sums_only():
            ask(f'SELECT * FROM "{table}"')


def test_all_that_a_person_stands_in_is_named():
    people = {model._meta.db_table for label in ("accounts", "wears", "curation") for model in models_of(label)}
    assert people | {"groups_membership", "groups_invitation", "core_idempotencykey"} <= wall.out_of_reach()
    assert set(rights_of_figures()) & wall.out_of_reach() == set()


def models_of(label):
    return apps.get_app_config(label).get_models()


def test_sums_and_what_they_rest_on_can_be_read(walled):
    with sums_only():
        for model in (SealedRecord, Place, Draft, FitPart, Edition, Group, Job):
            assert model.objects.count() >= 0


def test_the_wall_is_gone_after_it_and_after_a_fault_behind_it(walled):
    with sums_only():
        pass
    with pytest.raises(DatabaseError), transaction.atomic(), sums_only():
        Wear.objects.count()
    assert Wear.objects.count() == 0


def test_a_draft_is_made_and_published_behind_it(walled, sealed):
    draft = sealed.draft()
    assert draft.state == DraftState.READY
    assert publish_draft(sealed.group, draft.pk, by=sealed.moderator.account).number == 1


@pytest.mark.parametrize("step", ["fit_channel", "combine", "context_of"])
def test_a_step_that_looks_at_a_wear_brings_no_figure_out(walled, sealed, monkeypatch, step):
    inner = getattr(fitting, step)

    def nosy(*arguments):
        with transaction.atomic():
            list(Wear.objects.values_list("header", flat=True))
        return inner(*arguments)

    monkeypatch.setattr(fitting, step, nosy)
    draft = start_draft(sealed.group, by=sealed.moderator.account)
    faults = set()
    for _ in range(40):
        job = Job.objects.filter(state=Job.State.DUE, attempts=0).order_by("id").first()
        if job is None:
            break
        run_job(job.pk)
        job.refresh_from_db()
        faults.add(job.fault)
    draft.refresh_from_db()
    assert draft.state == DraftState.FITTING
    assert faults - {""}


def test_publishing_looks_at_no_wear(walled, sealed, monkeypatch):
    draft = sealed.draft()
    create = Edition.objects.create

    def nosy(**fields):
        WearSummary.objects.count()
        return create(**fields)

    monkeypatch.setattr(Edition.objects, "create", nosy)
    with pytest.raises(DatabaseError), transaction.atomic():
        publish_draft(sealed.group, draft.pk, by=sealed.moderator.account)
    assert not Edition.objects.exists()
