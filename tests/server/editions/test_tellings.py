"""A draft whose counts would tell other numbers is refused, with words; one made as it should be is not."""

import pytest

from server.core.errors import Conflict
from server.editions import fitting, services, tellings
from server.editions.models import DraftState, Edition
from server.editions.services import publish_draft
from server.editions.tellings import told_too_closely
from tests.server.editions.conftest import THIGH

pytestmark = pytest.mark.django_db
MAIN, OTHER = "demo-a14", "demo-b10"
RESTING = {f"accuracy|{THIGH}|{MAIN}": ["a"], f"accuracy|{THIGH}|{OTHER}": ["b"], f"skin|{THIGH}|{MAIN}": ["c"]}
WITHIN_FIVE = "1 unpublished numbers of wears can be told to within 5"


def row(model, n_wears, people):
    at_least, below = people
    return {
        "site": THIGH,
        "region": "thigh",
        "sensor_model": model,
        "people": {"at_least": at_least, "below": below},
        "n_wears": None if n_wears is None else {"value": n_wears},
    }


def document(n_site, n_main, *, site=(30, 50), main=(30, 50), other=(5, 10)):
    """A site, one of its sensor models, and a second one without a count."""
    by_model = [row(MAIN, n_main, main), row(OTHER, None, other)]
    return {"tables": {"sites": [row(None, n_site, site)], "sites_by_model": by_model}}


def test_rounded_counts_and_bands_tell_nothing_else():
    assert told_too_closely(document(40, 35), RESTING) == ()
    assert told_too_closely(document(None, 35), RESTING) == ()


@pytest.mark.parametrize(
    ("planted", "reason"),
    [
        (document(41, 35), "within 5"),
        (document(41, 36), "within 5"),
        (document(40, 60), "contradict one another"),
        (document(40, 35, main=(31, 32), other=(5, 6), site=(36, 37)), "people can be told exactly"),
    ],
)
def test_counts_of_a_program_that_forgot_to_round_are_refused(planted, reason):
    (told,) = told_too_closely(planted, RESTING)
    assert reason in told


def test_what_came_since_an_edition_is_not_told_where_it_is_few(monkeypatch):
    """A ledger that added three wears to what an edition had shown."""
    monkeypatch.setattr(tellings, "_published", lambda: {"a group": [(document(None, 31), RESTING)]})
    grown = RESTING | {f"accuracy|{THIGH}|{MAIN}": ["a", "a sum of three"]}
    few = "beside earlier editions, 1 numbers of wears below 5 can be told"
    assert few in told_too_closely(document(None, 34), grown)
    assert told_too_closely(document(None, 38), grown) == ()
    assert told_too_closely(document(None, 35), grown) == ()


def test_a_draft_is_looked_at_before_it_is_shown_and_again_before_it_is_published(pool, monkeypatch):
    members = pool.members(6)
    pool.wears(members, THIGH)
    for member in members[1:]:
        pool.wear(member, site=THIGH, sensor_model=OTHER)
    pool.cut_off(1)
    assemble = fitting.edition.assemble

    def forgets_to_round(*inputs):
        made = assemble(*inputs)
        for table in tellings.COUNTED:
            for own in made["tables"][table]:
                n_wears = {None: 11, MAIN: 6}.get(own["sensor_model"])
                own["n_wears"] = None if n_wears is None else {"value": n_wears}
        return made

    with monkeypatch.context() as patch:
        patch.setattr(fitting.edition, "assemble", forgets_to_round)
        planted = pool.draft()
    assert (planted.state, planted.reasons) == (DraftState.REFUSED, [WITHIN_FIVE])

    draft = pool.draft()
    assert draft.state == DraftState.READY, draft.reasons
    with monkeypatch.context() as patch:
        patch.setattr(services, "told_too_closely", lambda *_: ("a reason",))
        with pytest.raises(Conflict, match="Discard it: a reason"):
            publish_draft(pool.group, draft.pk, by=pool.moderator.account)
    assert not Edition.objects.exists()
    publish_draft(pool.group, draft.pk, by=pool.moderator.account)
    assert tellings._published().keys() == {pool.group.pk}
