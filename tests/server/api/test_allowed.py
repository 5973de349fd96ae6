"""Every call about a group, made by everybody: the answers are those of the table, and a hidden group is none."""

import re
from datetime import date

import pytest
from django.db import transaction
from rest_framework.test import APIClient

from pooling.edition.certificate import certificate_bytes
from server.editions.models import Draft, DraftState, Edition, Neighbour, Retraction, Slot
from server.groups.invitations import make_invitation, open_invitations
from server.groups.models import Group, Membership
from server.groups.rounds import open_round
from server.groups.selectors import everyone
from server.groups.services import appoint_moderator
from tests.server.api.allowed import ALLOWED, CAST, ROUND

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast(group, stranger, member_of_another_group, contributor, moderator, new_member):
    """A client for each column of the table."""
    operator = new_member()
    appoint_moderator(everyone(), account=operator.account)
    people = (stranger, member_of_another_group, operator, contributor, moderator)
    return dict(zip(CAST, (APIClient(), *(person.api for person in people)), strict=True))


@pytest.fixture
def objects(cast, group, contributor, moderator, give, edition, settings, clock):
    """What the addresses name: one of each kind, in the group."""
    settings.FIRST_CUT_OFF = date(2030, 7, 1)  # the eighth date lies a few days back
    content = {name: getattr(edition, name) for name in ("document", "sha256", "published_month")}
    certificate = certificate_bytes(bytes(edition.document), auditor_version=1)
    own = Edition.objects.create(group=group, slot=edition.slot, certificate=certificate, **content)
    Retraction.objects.create(edition=own, reason="privacy", proposer_mark="somebody")
    neighbour = Neighbour.objects.create(
        group=group,
        address="https://hills.example/",
        public_key="ab" * 32,
        sha256=edition.sha256,
        document=edition.document,
        certificate=certificate,
        signature={},
    )
    latest = Slot.objects.create(number=8, cut_off=date(2031, 2, 1))
    draft = Draft.objects.create(group=group, slot=latest, state=DraftState.READY, document=edition.document)
    make_invitation(group, by=moderator.account)
    round_of = open_round(group, by=moderator.account, **ROUND | {"start_month": date(2031, 3, 1)})
    return {
        "slug": group.slug,
        "member": Membership.objects.get(group=group, account=contributor.account).pk,
        "invitation": open_invitations(group, account=moderator.account)[0].id,
        "round_id": round_of.id,
        "wear_id": give(contributor).pk,
        "draft_id": draft.pk,
        "neighbour_id": neighbour.pk,
        "number": 7,
        "table": "sites",
        "chart": "sites",
        "file_format": "json",
    }


def ask(client, call, objects):
    """Make a call and undo what it did, so that everybody finds the same."""
    method, _, route = call.partition(" ")
    row = ALLOWED[call]
    address = "/api/v1/" + re.sub(r"<\w+:(\w+)>", lambda part: str(objects[part[1]]), route) + row.query
    with transaction.atomic():
        answer = getattr(client, method.lower())(address, row.body)
        transaction.set_rollback(True)
    return answer


def test_everybody_gets_what_the_table_says(cast, objects):
    got = {call: tuple(ask(client, call, objects).status_code for client in cast.values()) for call in ALLOWED}
    assert got == {call: row.answers for call, row in ALLOWED.items()}


def test_to_outsiders_a_hidden_group_is_answered_like_none(cast, objects):
    Group.objects.filter(slug=objects["slug"]).update(public=False)
    differ = {}
    for call in ALLOWED:
        if "<slug:slug>" not in call:
            continue
        for name in ("nobody", "stranger", "elsewhere", "operator"):
            hidden, missing = (ask(cast[name], call, objects | {"slug": slug}) for slug in ("harbour", "nowhere"))
            expected = 401 if name == "nobody" and ALLOWED[call].answers[0] == 401 else 404
            if (hidden.status_code, hidden.content) != (expected, missing.content):
                differ[call, name] = (hidden.status_code, missing.status_code)
    assert differ == {}


def test_what_belongs_to_another_group_is_not_found_by_its_moderator(cast, objects):
    """A moderator reaches with the id of somebody else's object, through the address of the own group."""
    through_meadow = objects | {"slug": "meadow"}
    named = [call for call in ALLOWED if "<slug:slug>" in call and "<uuid:" in call]
    assert len(named) >= 8
    assert {call: ask(cast["elsewhere"], call, through_meadow).status_code for call in named} == dict.fromkeys(
        named, 404
    )
