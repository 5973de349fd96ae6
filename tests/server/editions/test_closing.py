"""Sums that moderators end early: everything that could hold such a wear, nothing else, and whoever has left."""

import json
from collections import Counter
from itertools import count

import pytest
from django.db import connection, transaction

from pooling.ledger import CellKey
from server.accounts.selectors import wears_held_by
from server.accounts.services import close_account
from server.core.errors import Conflict, Forbidden, Invalid, NotFound
from server.curation.models import Decision
from server.curation.record import chain_is_whole
from server.editions import closing
from server.editions.models import Closing, DraftState, Place, RecordKind, SealedRecord, TieSeat
from server.editions.slots import open_ends
from server.groups.services import appoint_moderator
from server.held import ended_early_of, everything_about
from server.wears.models import Awaited, Wear
from server.wears.services import take_back
from server.wears.transitions import State
from tests.server.editions.conftest import FLANK, THIGH

MODEL = "demo-a14"


def asked(site=THIGH, *, end=24, **changes):
    return closing.Asked(**{"site": site, "sensor_model": MODEL, "end": end, "code": "swapped", **changes})


def close(pool, what=None, *, group=None, by=None):
    what, group, by = what or asked(), group or pool.group, (by or pool.moderator).account
    told = closing.tell_closing(group, what, by=by)
    return closing.close_sums(group, what, confirm=told.confirm, by=by)


def standing(**where):
    """What still has values, as kind, family, place and model."""
    records = SealedRecord.objects.filter(payload__isnull=False, **where)
    return Counter(records.values_list("kind", "family", "place", "sensor_model"))


# What ends


def test_everything_that_could_hold_such_a_wear_ends_with_what_rests_on_it(sealed):
    before = standing(family="accuracy")
    assert {kind for kind, *_ in before} >= {RecordKind.BLOCK, RecordKind.OVERLAP, RecordKind.KURTOSIS}
    close(sealed)
    assert standing(family="accuracy") == before  # not before the next cut-off
    n_rows, n_seats, n_places = SealedRecord.objects.count(), TieSeat.objects.count(), Place.objects.count()
    sealed.cut_off(2)
    left = standing()
    assert {place for _, _, place, _ in left} == {FLANK}
    assert {kind for kind, *_ in left} <= {RecordKind.BLOCK, RecordKind.PARTS}
    assert all(left[RecordKind.BLOCK, family, FLANK, MODEL] for family in ("accuracy", "survival"))
    assert (SealedRecord.objects.count(), TieSeat.objects.count()) == (n_rows, n_seats)
    assert Place.objects.count() == n_places
    ended = Place.objects.filter(record__payload__isnull=True)
    assert set(ended.values_list("n_wears", flat=True)) == {0}
    assert not ended.exclude(q1=[]).exists()


@pytest.mark.parametrize(
    ("place", "sensor_model", "ends"),
    [
        (THIGH, MODEL, True),
        (THIGH, None, True),
        ("thigh", None, True),
        ("other", None, True),
        (THIGH, "demo-b10", False),
        ("thigh.outer", None, False),
        (FLANK, MODEL, False),
        ("abdomen", None, False),
    ],
)
def test_coarser_descriptions_end_too_and_others_stay(sealed, place, sensor_model, ends):
    made = lay(sealed.group.scope, place, sensor_model)
    close(sealed)
    sealed.cut_off(2)
    made.refresh_from_db()
    assert (made.payload is None) == ends == CellKey("s", place, sensor_model).could_hold(THIGH, MODEL)


def lay(scope, place, sensor_model, *, kind=RecordKind.BLOCK, end=24, family="accuracy", **payload):
    """A record put past the planner; what is ended is chosen by its cell and end alone."""
    cell = {"scope": scope, "place": place, "sensor_model": sensor_model}
    return SealedRecord.objects.create(
        kind=kind, end_bucket=end, seal_version=1, k=5, family=family, payload=cell | payload, **cell
    )


@pytest.mark.parametrize("kind", [RecordKind.TIE, RecordKind.OVERLAP, RecordKind.PARTS, RecordKind.KURTOSIS])
def test_what_rests_on_several_cells_ends_where_it_touches_one(sealed, kind):
    scope = sealed.group.scope
    cells = [{"scope": scope, "place": place, "sensor_model": MODEL} for place in (FLANK, THIGH, "calf")]
    far, near = [cells[0], cells[2]], cells[:2]
    if kind == RecordKind.TIE:
        made = [lay(scope, "", None, kind=kind, cells=each) for each in (near, far)]
    elif kind == RecordKind.OVERLAP:
        made = [lay(scope, FLANK, MODEL, kind=kind, other=each[1]) for each in (near, far)]
    elif kind == RecordKind.PARTS:
        made = [lay(scope, THIGH, None, kind=kind), lay(scope, FLANK, None, kind=kind), lay(scope, "", None, kind=kind)]
    else:
        made = [lay(scope, "", None, kind=kind), lay(scope, "", None, kind=kind, end=30)]
    close(sealed)
    sealed.cut_off(2)
    ended = [SealedRecord.objects.get(pk=each.pk).payload is None for each in made]
    assert ended == [True, False, True][: len(made)]


def test_what_is_shared_with_the_other_scope_ends_too(sealed):
    here = {"scope": sealed.group.scope, "place": THIGH, "sensor_model": MODEL}
    crossing = lay("everyone", THIGH, MODEL, kind=RecordKind.OVERLAP, other=here)
    apart = lay("everyone", THIGH, MODEL, kind=RecordKind.OVERLAP, other=here | {"scope": "everyone"})
    later = lay("everyone", THIGH, MODEL, kind=RecordKind.OVERLAP, other=here, end=30)
    close(sealed)
    sealed.cut_off(2)
    for each, ends in ((crossing, True), (apart, False), (later, False)):
        each.refresh_from_db()
        assert (each.payload is None) == ends


@pytest.mark.parametrize("other", [{"scope": "everyone"}, {"end": 30}, {"family": "ease"}], ids=str)
def test_other_scopes_ends_and_kinds_of_figures_stay(sealed, other):
    where = {"scope": sealed.group.scope, **other}
    made = lay(where.pop("scope"), THIGH, MODEL, **where)
    close(sealed, asked(families=("accuracy", "survival")))
    sealed.cut_off(2)
    made.refresh_from_db()
    assert made.payload is not None
    assert standing(family="accuracy", scope=sealed.group.scope, place=THIGH, end_bucket=24) == Counter()


def test_where_nothing_of_the_kind_counts_nothing_ends(sealed):
    before = standing()
    close(sealed, asked("calf"))
    sealed.cut_off(2)
    assert standing() == before


# What follows


def test_it_is_done_once_and_what_enters_later_counts(sealed):
    close(sealed)
    sealed.cut_off(2)
    assert not Closing.objects.exists()
    sealed.wears(sealed.members(6), THIGH)
    sealed.cut_off(3)
    sealed.cut_off(4)
    assert standing(family="accuracy", place=THIGH, kind=RecordKind.BLOCK, end_bucket=24).total() == 1


def test_those_who_were_counted_there_do_not_come_back(sealed):
    close(sealed)
    for slot in (2, 3, 4, 5, 6):
        sealed.cut_off(slot)
    assert set(Wear.objects.values_list("state", flat=True)) == {State.ADMITTED}
    assert not Awaited.objects.filter(family="accuracy").exists()
    assert standing(place=THIGH) == Counter()


def test_their_next_wears_find_room_under_the_cap_and_are_summed_anew(pool):
    pool.crowd = pool.members(6)
    for _ in range(3):
        pool.wears(pool.crowd, THIGH)
    pool.cut_off(1)
    more = pool.wears(pool.crowd, THIGH)
    pool.cut_off(2)
    assert Awaited.objects.filter(wear__in=more, family="accuracy").count() == len(more)
    close(pool)
    pool.cut_off(3)
    assert not Awaited.objects.filter(wear__in=more, family="accuracy").exists()
    overlaps = SealedRecord.objects.filter(kind=RecordKind.OVERLAP, family="accuracy", payload__isnull=False)
    assert not overlaps.filter(place=THIGH).exists()


def test_an_edition_can_be_drafted_afterwards(sealed):
    close(sealed)
    sealed.cut_off(2)
    draft = sealed.draft()
    assert (draft.state, draft.reasons) == (DraftState.READY, [])
    assert FLANK in bytes(draft.document).decode()


# Who has left


def history(pool, leave):
    """All sums after an early end and two more cut-offs, if somebody has left before."""
    with transaction.atomic():
        leave()
        close(pool)
        pool.cut_off(2)
        pool.wears(pool.crowd[1:], "calf")
        pool.cut_off(3)
        found = sorted(
            json.dumps([each.family, each.kind, each.scope, each.place, each.end_bucket, each.payload], sort_keys=True)
            for each in SealedRecord.objects.all()
        )
        transaction.set_rollback(True)
    return found


def test_histories_that_differ_only_in_leaving_stay_identical(sealed):
    leaver = sealed.crowd[0].account

    def take_one_site_back():
        for member in sealed.crowd:
            held = Wear.objects.filter(pk__in=wears_held_by(member.account), header__site=THIGH)
            for wear in list(held.values_list("pk", flat=True)):
                take_back(wear, account=member.account)

    stories = []
    for leave in (lambda: None, lambda: close_account(leaver), take_one_site_back):
        sealed.seeds = count(1_000)  # everybody's later wears have the same readings in each history
        stories.append(history(sealed, leave))
    assert any(story.endswith(" null]") for story in stories[0])
    assert stories[1] == stories[0]
    assert stories[2] == stories[0]


def test_it_works_when_nobody_is_left(sealed):
    for member in sealed.crowd:
        close_account(member.account)
    close(sealed)
    sealed.cut_off(2)
    assert standing(place=THIGH) == Counter()


# Two steps, and who may take them


def test_what_would_end_is_said_without_a_count(sealed):
    told = closing.tell_closing(sealed.group, asked(), by=sealed.moderator.account)
    assert "front of the thigh" in told.stops
    assert "Harbour and of everyone" in told.stops
    assert "other sites" not in told.stops  # a group counts nothing there; everyone does
    assert "cannot be undone" in told.stops
    assert told.takes_effect_on.isoformat() == "2031-04-01"
    sealed.wears(sealed.members(7), THIGH)
    assert closing.tell_closing(sealed.group, asked(), by=sealed.moderator.account) == told
    assert not Closing.objects.exists()
    assert not Decision.objects.filter(action="close").exists()


def test_only_what_was_told_is_confirmed_and_only_until_the_next_date(sealed):
    by = sealed.moderator.account
    other = sealed.new_member().account
    appoint_moderator(sealed.group, account=other)
    word = closing.tell_closing(sealed.group, asked(), by=by).confirm
    for changed, who in (
        (asked(FLANK), by),
        (asked(families=("skin",)), by),
        (asked(code="stuck"), by),
        (asked(), other),
    ):
        with pytest.raises(Conflict):
            closing.close_sums(sealed.group, changed, confirm=word, by=who)
    sealed.cut_off(2)
    with pytest.raises(Conflict):
        closing.close_sums(sealed.group, asked(), confirm=word, by=by)
    assert not Closing.objects.exists()


def test_it_stands_in_the_record_of_decisions(sealed):
    decision = close(sealed, asked(families=("accuracy", "skin")))
    assert (decision.action, decision.code, decision.wear_mark) == ("close", "swapped", "")
    assert decision.closes == f"{THIGH}|{MODEL}|24|accuracy,skin"
    assert chain_is_whole(sealed.group)


def test_the_database_keeps_what_ends_inside_the_hash(sealed):
    close(sealed)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE curation_decision SET closes = 'calf|demo-a14|24|skin' WHERE action = 'close'")
    assert not chain_is_whole(sealed.group)


def test_moderators_of_the_group_alone(sealed, stranger):
    for somebody, refusal in ((sealed.crowd[0], Forbidden), (stranger, NotFound)):
        for call in (
            lambda who: closing.tell_closing(sealed.group, asked(), by=who),
            lambda who: closing.close_sums(sealed.group, asked(), confirm="x", by=who),
            lambda who: closing.closings_for_moderator(sealed.group, account=who),
        ):
            with pytest.raises(refusal):
                call(somebody.account)


def test_in_the_figures_of_everyone_those_whom_the_operator_appointed(sealed):
    made = lay("everyone", "other", None)
    with pytest.raises(NotFound):
        close(sealed, group=sealed.everyone)
    operators = sealed.new_member()
    appoint_moderator(sealed.everyone, account=operators.account)
    told = closing.tell_closing(sealed.everyone, asked(), by=operators.account)
    assert "other sites" in told.stops
    close(sealed, group=sealed.everyone, by=operators)
    sealed.cut_off(2)
    made.refresh_from_db()
    assert made.payload is None
    assert standing(place=THIGH, scope=sealed.group.scope, kind=RecordKind.BLOCK).total() > 0


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"site": "elbow"}, "#/site"),
        ({"sensor_model": "unheard-of"}, "#/sensor_model"),
        ({"end": 18}, "#/end"),
        ({"end": 30}, "#/end"),
        ({"families": ()}, "#/families"),
        ({"families": ("beauty",)}, "#/families"),
        ({"code": "dislike"}, "#/code"),
    ],
    ids=str,
)
def test_faults_are_pointed_at(sealed, changes, pointer):
    with pytest.raises(Invalid) as refused:
        closing.tell_closing(sealed.group, asked(**changes), by=sealed.moderator.account)
    assert [fault["pointer"] for fault in refused.value.faults] == [pointer]


def test_ends_are_told_by_the_calendar(sealed):
    for slot in range(2, 8):
        sealed.cut_off(slot)
    ends = [(each.end, each.counted_from.isoformat(), each.counted_to.isoformat()) for each in open_ends()]
    assert ends == [(24, "2031-03-01", "2031-07-01"), (30, "2031-08-01", "2031-09-01")]
    close(sealed)
    told = closing.closings_for_moderator(sealed.group, account=sealed.moderator.account)
    assert [(each.site, each.end_bucket) for each in told.due] == [(THIGH, 24)]


def test_owners_are_told_that_sums_that_may_count_theirs_were_ended_early_and_nobody_is_by_a_leaving(sealed):
    stays, leaves = sealed.crowd[:2]
    held = Wear.objects.filter(pk__in=wears_held_by(stays.account)).values_list("header__site", "pk")
    wears = dict(held)

    def told(site):
        return ended_early_of(Wear.objects.get(pk=wears[site]), account=stays.account)

    close_account(leaves.account)
    close(sealed)
    assert (told(THIGH), told(FLANK)) == ([], [])  # not before the next cut-off
    sealed.cut_off(2)
    assert {"accuracy", "survival"} <= set(told(THIGH))
    assert told(FLANK) == []
    blocks = [place for place in everything_about(stays.account)["places"] if place["sums_of"] == "block"]
    assert {(place["place"], place["ended_early"]) for place in blocks} == {(THIGH, True), (FLANK, False)}
    SealedRecord.objects.filter(place=THIGH).update(end_bucket=2)
    assert told(THIGH) == []  # what has come to its date is not ended early
