"""What could be learned about somebody: held against the planner that will decide, and against the words of pages."""

import re
from dataclasses import asdict, replace

import pytest

from pooling.disclosure import ASKED_OF, MEMBERS, GroupFacts, band_of_members, disclose
from pooling.errors import InvalidInput
from pooling.ledger.plan import EVERYONE, LEVELS, CellKey, Waiting, end_bucket, plan
from pooling.sealing.version import FAMILIES
from pooling.vocabulary import SITES

HARBOUR = GroupFacts(
    name="Harbour",
    is_everyone=False,
    feeds_everyone=True,
    k=5,
    k_of_everyone=6,
    members="25_to_99",
    public=True,
    has_published=True,
)
ALONE = replace(HARBOUR, feeds_everyone=False)
ABOVE = replace(HARBOUR, name="Everyone", is_everyone=True, k=6)
NOT_ON_PAGES = re.compile(r"\b(ledger|blocks?|seal(s|ed|ing)?|admission|admitted)\b", re.IGNORECASE)


def told(group=HARBOUR, *, site="thigh.front", families=("accuracy", "skin"), next_slot=7):
    return disclose(site=site, sensor_model="demo-a14", families=families, group=group, next_slot=next_slot)


def texts(value):
    if isinstance(value, str):
        yield value
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list | tuple) else ():
        yield from texts(inner)


def test_the_order_and_the_waits_are_those_of_the_rules():
    steps = [(step.whose, step.place, step.sensor_model, step.after_editions) for step in told().steps]
    assert steps == [
        ("group", "thigh.front", "demo-a14", 0),
        ("everyone", "thigh.front", "demo-a14", 0),
        ("group", "thigh.front", None, 2),
        ("everyone", "thigh.front", None, 2),
        ("group", "thigh", None, 4),
        ("everyone", "thigh", None, 4),
        ("everyone", "other", None, 4),
    ]
    assert {step.whose for step in told(ALONE).steps} == {"group"}
    assert {step.whose for step in told(ABOVE).steps} == {"everyone"}
    assert "calf" not in {step.place for step in told(ALONE, site="calf").steps if step.after_editions == 4}


def test_a_room_is_told_as_what_counts_with_everyones_alone():
    steps = told(replace(HARBOUR, room=True)).steps
    assert [step.place for step in steps] == [step.place for step in told(ABOVE).steps]
    assert {step.whose for step in steps} == {"everyone"}


def test_the_longer_waits_of_a_group_are_told():
    steps = told(replace(HARBOUR, before_model_given_up=3, before_site_given_up=7)).steps
    assert [step.after_editions for step in steps] == [0, 0, 3, 3, 7, 7, 7]
    assert "after 7 edition dates" in steps[-1].says


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("group", [HARBOUR, ALONE, ABOVE], ids=["feeds", "alone", "everyone"])
def test_the_planner_counts_a_wear_where_it_was_said_and_nowhere_else(site, group):
    """With company that fits at one step alone, the wear is counted at that step, after its wait and not before."""
    scope = EVERYONE if group.is_everyone else "group"
    for step in told(group, site=site).steps:
        cell = CellKey(EVERYONE if step.whose == "everyone" else "group", step.place, step.sensor_model)
        for waited in range(step.after_editions + 1):
            blocks = plan(
                [waiting(n, site, scope, group.feeds_everyone, waited) for n in range(6)],
                slot_key=b"key",
                k_of={"group": group.k, EVERYONE: group.k_of_everyone},
                levels=levels_of(cell, step),
            ).blocks
            assert [block.cell for block in blocks] == ([cell] if waited == step.after_editions else [])


def waiting(n, site, scope, feeds_everyone, waited):
    return Waiting(f"w{n}", f"p{n}", f"p{n}", scope, feeds_everyone, site, "demo-a14", waited, True, 0)


def levels_of(cell, step):
    exactness = "other" if cell.place == "other" else "site" if cell.place in SITES else "region"
    found = [
        level
        for level in LEVELS
        if (level.scope, level.place, level.model) == (step.whose, exactness, step.sensor_model is not None)
    ]
    assert len(found) == 1
    return found


def test_how_many_must_meet_is_said_for_each_kind_of_figures():
    own, above = told().steps[:2]
    assert own.fewest_people == {"accuracy": 5, "skin": 10}
    assert above.fewest_people == {"accuracy": 6, "skin": 10}


def test_only_what_the_wear_says_something_about_is_named():
    assert [outcome.family for outcome in told(families=("comfort", "survival")).outcomes] == ["survival", "comfort"]
    assert set(ASKED_OF) == set(FAMILIES)


def test_five_kinds_of_people_are_told_apart():
    who = [onlooker.who for onlooker in told().onlookers]
    assert who == [
        "another member",
        "a moderator of the group",
        "the operator",
        "an employer or insurer",
        "a court",
    ]


def sees(group, who):
    return next(onlooker.sees for onlooker in told(group).onlookers if onlooker.who == who)


def test_an_outsider_sees_what_is_public_and_no_more():
    closed = replace(HARBOUR, public=False)
    insurer = "an employer or insurer"
    assert "as everybody can" in sees(HARBOUR, insurer)
    assert "Figures of everyone" in sees(closed, insurer)
    assert "Nothing, unless a member shows" in sees(replace(closed, feeds_everyone=False), insurer)


def test_members_are_told_of_a_guess_that_no_rule_prevents():
    small = replace(HARBOUR, members="under_25", has_published=False)
    assert "you alone" in sees(small, "another member")
    assert "once some are published" in sees(small, "another member")
    assert "few people" in sees(HARBOUR, "another member")


def test_the_small_room_is_warned_of_without_a_count():
    assert told().small_group is None
    assert told(replace(ABOVE, members="under_25")).small_group is None
    assert "everyone instead" in told(replace(HARBOUR, members="under_25")).small_group
    assert "perhaps for ever" in told(replace(ALONE, members="under_25")).small_group


@pytest.mark.parametrize("slot", range(1, 40))
def test_the_latest_end_is_the_one_that_the_sums_will_have(slot):
    stays = told(next_slot=slot).stays
    assert stays.until_slot_if_counted_next == end_bucket(slot)
    assert stays.fewest_editions <= end_bucket(slot) - slot <= stays.most_editions
    assert (stays.fewest_editions, stays.most_editions) == (19, 24)


@pytest.mark.parametrize("members", MEMBERS)
@pytest.mark.parametrize("group", [HARBOUR, ALONE, ABOVE], ids=["feeds", "alone", "everyone"])
def test_words_are_those_of_pages(group, members):
    for text in texts(asdict(told(replace(group, members=members)))):
        assert not NOT_ON_PAGES.search(text), text


def test_members_are_told_in_bands():
    assert [band_of_members(n) for n in (0, 24, 25, 99, 100, 5_000)] == [
        *("under_25",) * 2,
        *("25_to_99",) * 2,
        *("100_or_more",) * 2,
    ]
    with pytest.raises(InvalidInput):
        band_of_members(-1)


@pytest.mark.parametrize(
    "changes",
    [
        {"site": "elbow"},
        {"families": ()},
        {"families": ("beauty",)},
        {"next_slot": 0},
        {"group": replace(HARBOUR, k=1)},
        {"group": replace(HARBOUR, k=7)},
    ],
    ids=["site", "nothing", "family", "slot", "k", "k above everyone"],
)
def test_senseless_input_is_refused(changes):
    with pytest.raises(InvalidInput):
        told(**changes)


def test_a_moderator_of_a_small_group_sees_no_reading_and_one_from_outside_sees_them_rounded():
    small = replace(HARBOUR, members="under_25", room=False)
    handed_up = replace(small, curated_by_everyone=True)
    large = replace(HARBOUR, members="25_to_99", room=False)
    assert "No single reading" in sees(small, "a moderator of the group")
    for group, who in ((handed_up, "a moderator of everyone"), (large, "a moderator of the group")):
        assert "rounded to 10 mg/dL" in sees(group, who)
    assert f"wears of {HARBOUR.k} people" in sees(large, "a moderator of the group")
