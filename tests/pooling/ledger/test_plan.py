"""The plan of one cut-off: levels, waiting, packing, caps, ends."""

import random
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pooling.errors import InvalidInput
from pooling.ledger import EVERYONE, LEVELS, CellKey, Level, Plan, Waiting, end_bucket, plan

SLOT_KEY = bytes(range(32))
ARM = "upper_arm.back"
OUTER_ARM = "upper_arm.outer"


def wear(name: str, person: str | None = None, **changes: object) -> Waiting:
    person = person or f"account of {name}"
    plain = Waiting(
        wear=name,
        person=person,
        wearer=f"{person}, self",
        group="harbour",
        feeds_everyone=True,
        site=ARM,
        sensor_model="demo-a14",
        waited=0,
        aged=True,
        places_open=0,
    )
    return replace(plain, **changes)


def wears(n: int, prefix: str = "w", **changes: object) -> list[Waiting]:
    return [wear(f"{prefix}{i}", **changes) for i in range(n)]


def plan_of(waiting: list[Waiting], *, k: int = 3, cap: int = 3, slot_key: bytes = SLOT_KEY) -> Plan:
    return plan(waiting, slot_key=slot_key, k_of=lambda scope: k, cap=cap)


def cells(outcome: Plan) -> list[str]:
    return [block.cell.text for block in outcome.blocks]


# --- blocks ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("k", [2, 3, 5, 10])
def test_all_who_meet_at_a_cell_make_one_block_from_k_people_on(k):
    for n_people in range(4 * k + 1):
        sizes = [len(block.people) for block in plan_of(wears(n_people), k=k).blocks]
        assert sizes == ([n_people] if n_people >= k else [])


def test_exactly_k_people_enter_and_k_minus_one_wait():
    assert len(plan_of(wears(5), k=5).blocks) == 1
    outcome = plan_of(wears(4), k=5)
    assert outcome.blocks == ()
    assert sorted(outcome.still_waiting) == ["w0", "w1", "w2", "w3"]


def test_many_wears_of_few_people_are_no_crowd():
    lonely = [wear(f"w{i}", f"p{i % 2}", wearer=f"body {i}") for i in range(20)]
    assert plan_of(lonely, k=3).blocks == ()


def test_two_wearers_of_one_account_count_as_one_person():
    family = [wear("w0", "parent", wearer="child"), wear("w1", "parent", wearer="parent"), wear("w2", "neighbour")]
    assert plan_of(family, k=3).blocks == ()
    assert plan_of(family, k=2).blocks[0].people != ()


def test_all_wears_of_a_person_for_a_cell_enter_together():
    crowd = [wear(f"w{i}", f"p{i % 7}") for i in range(21)]
    (block,) = plan_of(crowd, k=3).blocks
    assert Counter(block.wears) == Counter(one.wear for one in crowd)


def test_which_wears_come_first_under_the_cap_changes_with_the_slot_key():
    crowd = [wear(f"w{i}", f"p{i % 4}") for i in range(40)]
    first, second = (
        {name for block in plan_of(crowd, slot_key=key).blocks for name in block.wears}
        for key in (b"one slot", b"another slot")
    )
    assert len(first) == len(second) == 12
    assert first != second


# --- ties ------------------------------------------------------------------------------------------------------------


def both(n: int, start: int = 0, **changes: object) -> list[Waiting]:
    """People with a wear on each of two sites."""
    people = [f"p{i}" for i in range(start, start + n)]
    return [wear(f"{site} of {person}", person, site=site, **changes) for person in people for site in (ARM, OUTER_ARM)]


def test_people_at_two_cells_link_them():
    (tie,) = plan_of([*both(4), *wears(3)], k=3).ties
    assert [cell.place for cell in tie.cells] == [ARM, OUTER_ARM]
    assert set(tie.linkers) == {f"p{i}, self" for i in range(4)}


def test_who_is_held_back_from_a_tie_changes_with_the_slot_key():
    first, second = (plan_of(both(12), k=3, slot_key=key).ties[0].linkers for key in (b"one slot", b"another slot"))
    assert len(first) == len(second) == 9
    assert set(first) != set(second)


def test_an_account_links_with_one_wearer():
    parents = [replace(one, wearer=f"{one.person}, child") for one in both(3)]
    outcome = plan_of([*both(3), *[replace(one, wear=f"child, {one.wear}") for one in parents], *wears(3)], k=3)
    (tie,) = outcome.ties
    assert len(tie.linkers) == len({name.split(",")[0] for name in tie.linkers}) == 3


def test_ties_stay_within_a_scope():
    alone = both(4, group="orchard", feeds_everyone=False) + wears(3, prefix="v", group="orchard", feeds_everyone=False)
    harbour = [*both(4, start=10), *wears(3)]
    ties = plan_of([*alone, *harbour], k=3).ties
    assert sorted({cell.scope for cell in tie.cells} for tie in ties) == [{"harbour"}, {"orchard"}]


# --- levels ----------------------------------------------------------------------------------------------------------


def test_the_order_of_levels_and_their_waits():
    assert [(level.scope, level.place, level.model, level.wait) for level in LEVELS] == [
        ("group", "site", True, 0),
        ("everyone", "site", True, 0),
        ("group", "site", False, 2),
        ("everyone", "site", False, 2),
        ("group", "region", False, 4),
        ("everyone", "region", False, 4),
        ("everyone", "other", False, 4),
    ]


def test_the_own_group_comes_before_everyone():
    crowd = [*wears(3), wear("x", group="orchard"), wear("y", group="lantern")]
    outcome = plan_of(crowd, k=3)
    assert cells(outcome) == [f"harbour|{ARM}|demo-a14"]
    assert set(outcome.still_waiting) == {"x", "y"}


def test_groups_that_feed_everyone_meet_there():
    crowd = [wear("x", group="harbour"), wear("y", group="orchard"), wear("z", group="lantern")]
    assert cells(plan_of(crowd, k=3)) == [f"everyone|{ARM}|demo-a14"]


def test_a_group_that_does_not_feed_everyone_stays_by_itself():
    waited_long = [wear(f"w{i}", group=f"group {i}", feeds_everyone=False, waited=9) for i in range(9)]
    assert plan_of(waited_long, k=3).blocks == ()
    own = [wear(f"w{i}", feeds_everyone=False, waited=9) for i in range(3)]
    assert cells(plan_of(own, k=3)) == [f"harbour|{ARM}|demo-a14"]


def test_wears_given_straight_to_everyone_are_packed_with_the_others():
    given_straight = [wear(f"w{i}", group=EVERYONE) for i in range(3)]
    outcome = plan_of([*given_straight, wear("x", group="orchard"), wear("y", group="lantern")], k=3)
    assert cells(outcome) == [f"everyone|{ARM}|demo-a14"]
    assert set(outcome.blocks[0].wears) == {"w0", "w1", "w2", "x", "y"}


@pytest.mark.parametrize(("waited", "expected"), [(0, []), (1, []), (2, [f"harbour|{ARM}|*"])])
def test_the_model_is_lost_after_two_editions(waited, expected):
    crowd = [wear(f"w{i}", sensor_model=f"demo-{i}", waited=waited) for i in range(3)]
    assert cells(plan_of(crowd, k=3)) == expected


@pytest.mark.parametrize(("waited", "expected"), [(2, []), (3, []), (4, ["harbour|upper_arm|*"])])
def test_the_site_is_lost_after_four_editions(waited, expected):
    crowd = [wear("w0", waited=waited), wear("w1", waited=waited), wear("w2", site=OUTER_ARM, waited=waited)]
    assert cells(plan_of(crowd, k=3)) == expected


@pytest.mark.parametrize(("own", "waited", "expected"), [(3, 2, []), (3, 3, [f"harbour|{ARM}|*"]), (1, 1, [])])
def test_a_group_may_wait_longer_before_the_model_is_given_up_and_never_shorter(own, waited, expected):
    crowd = [wear(f"w{i}", sensor_model=f"demo-{i}", waited=waited, before_model_given_up=own) for i in range(3)]
    assert cells(plan_of(crowd, k=3)) == expected


@pytest.mark.parametrize(("waited", "expected"), [(5, []), (6, ["harbour|upper_arm|*"])])
def test_a_group_may_wait_longer_before_the_site_is_given_up(waited, expected):
    own = {"waited": waited, "before_site_given_up": 6}
    crowd = [wear("w0", **own), wear("w1", **own), wear("w2", site=OUTER_ARM, **own)]
    assert cells(plan_of(crowd, k=3)) == expected


def test_only_those_who_waited_lose_detail():
    crowd = [wear("w0", waited=4), wear("w1", waited=4), wear("w2", site=OUTER_ARM, waited=3)]
    assert plan_of(crowd, k=3).blocks == ()


def test_a_region_of_one_leaf_is_no_region_and_ends_among_other_sites():
    crowd = [wear(f"w{i}", site="calf", sensor_model=f"demo-{i}", waited=1) for i in range(3)]
    assert plan_of(crowd, k=3).blocks == ()
    mixed = [
        wear("w0", site="calf", waited=4),
        wear("w1", site="chest", waited=4),
        wear("w2", site="buttock", waited=4),
    ]
    assert cells(plan_of(mixed, k=3)) == ["everyone|other|*"]


def test_a_region_level_alone_takes_nothing_from_a_region_of_one_leaf():
    by_region = [Level("everyone", "region", model=False, wait=0)]
    for site, expected in [("calf", 0), ("thigh.front", 1)]:
        outcome = plan(wears(3, site=site), slot_key=SLOT_KEY, k_of=lambda scope: 3, levels=by_region)
        assert len(outcome.blocks) == expected


def test_blocks_of_a_level_come_by_cell():
    crowd = [wear(f"{site}{i}", site=site) for site in ("chest", "calf", "buttock", ARM) for i in range(3)]
    found = cells(plan_of(crowd, k=3))
    assert found == sorted(found)
    assert len(found) == 4


def test_a_finer_level_takes_first_and_the_rest_goes_on():
    fine = wears(3, waited=4)
    coarse = [wear(f"x{i}", sensor_model=f"demo-{i}", waited=4) for i in range(3)]
    assert cells(plan_of(fine + coarse, k=3)) == [f"harbour|{ARM}|demo-a14", f"harbour|{ARM}|*"]


def test_each_scope_has_its_own_threshold():
    crowd = [*wears(4), *wears(4, "x", group="orchard")]
    outcome = plan(crowd, slot_key=SLOT_KEY, k_of={"harbour": 4, "orchard": 5, EVERYONE: 6})
    assert cells(outcome) == [f"harbour|{ARM}|demo-a14"]
    assert len(outcome.still_waiting) == 4


# --- who may enter at all --------------------------------------------------------------------------------------------


def test_young_accounts_wait_and_count_for_nobody():
    crowd = [*wears(2), wear("young", aged=False)]
    assert plan_of(crowd, k=3).blocks == ()
    outcome = plan_of([*wears(3), wear("young", aged=False)], k=3)
    assert outcome.still_waiting == ("young",)


def test_the_cap_counts_places_already_open_and_those_of_this_cut_off():
    others = wears(2)
    eager = [wear(f"e{i}", "eager") for i in range(5)]
    for places_open, expected in [(0, 3), (1, 2), (2, 1)]:
        crowd = others + [replace(one, places_open=places_open) for one in eager]
        outcome = plan_of(crowd, k=3)
        assert sum(name.startswith("e") for name in outcome.blocks[0].wears) == expected
        assert len(outcome.still_waiting) == 5 - expected
    assert plan_of(others + [replace(one, places_open=3) for one in eager], k=3).blocks == ()


def test_the_cap_is_per_wearer_site_and_model():
    family = [wear(f"a{i}", "parent", wearer="one child") for i in range(4)]
    family += [wear(f"b{i}", "parent", wearer="other child") for i in range(4)]
    family += [wear(f"c{i}", "parent", wearer="one child", sensor_model="demo-b10") for i in range(4)]
    crowd = family + wears(1) + wears(1, "x", sensor_model="demo-b10")
    entered = [name for block in plan_of(crowd, k=2).blocks for name in block.wears]
    assert Counter(name[0] for name in entered) == {"a": 3, "b": 3, "c": 3, "w": 1, "x": 1}


# --- the same for any order ------------------------------------------------------------------------------------------

waiting_lists = st.lists(
    st.builds(
        wear,
        name=st.uuids().map(str),
        person=st.integers(0, 8).map(str),
        group=st.sampled_from(["harbour", "orchard", EVERYONE]),
        site=st.sampled_from([ARM, OUTER_ARM, "calf", "chest"]),
        sensor_model=st.sampled_from(["demo-a14", "demo-b10"]),
        waited=st.integers(0, 5),
        aged=st.booleans(),
        places_open=st.integers(0, 3),
    ),
    max_size=40,
    unique_by=lambda one: one.wear,
)


@settings(max_examples=60, database=None)
@given(waiting=waiting_lists, k=st.integers(2, 4), seed=st.integers(0, 2**32))
def test_every_plan_keeps_the_promises_whatever_the_order(waiting, k, seed):
    outcome = plan_of(waiting, k=k)
    shuffled = waiting.copy()
    random.Random(seed).shuffle(shuffled)
    assert plan_of(shuffled, k=k) == outcome

    by_name = {one.wear: one for one in waiting}
    entered = [name for block in outcome.blocks for name in block.wears]
    assert Counter([*entered, *outcome.still_waiting]) == Counter(list(by_name))
    for block in outcome.blocks:
        members = [by_name[name] for name in block.wears]
        assert {one.person for one in members} == set(block.people)
        assert k <= len(block.people) == len(set(block.people))
        assert all(one.aged and block.cell.could_hold(one.site, one.sensor_model) for one in members)
        assert {one.group for one in members} == {block.cell.scope} or block.cell.scope == EVERYONE
    assert len({block.cell for block in outcome.blocks}) == len(outcome.blocks)
    open_after = Counter((by_name[name].wearer, by_name[name].site, by_name[name].sensor_model) for name in entered)
    assert all(n <= 3 for n in open_after.values())


# --- cells, ends, marks ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["everyone|thigh|*", "harbour|thigh.front|demo-a14", "everyone|other|*"])
def test_a_cell_is_read_back_as_written(text):
    assert CellKey.parse(text).text == text


@pytest.mark.parametrize("text", ["", "everyone|thigh", "a|b|c|d", "|thigh|*", "everyone||*", "everyone|thigh|"])
def test_junk_is_no_cell(text):
    with pytest.raises(InvalidInput):
        CellKey.parse(text)


def test_cells_sort_with_any_model_first():
    unsorted = [CellKey("b", "calf", None), CellKey("a", "calf", "demo"), CellKey("a", "calf", None)]
    assert [cell.text for cell in sorted(unsorted)] == ["a|calf|*", "a|calf|demo", "b|calf|*"]
    with pytest.raises(InvalidInput):
        CellKey("a", "calf", "*")


def test_a_cell_knows_what_it_could_hold():
    assert CellKey("everyone", "thigh", None).could_hold("thigh.front", "demo-a14")
    assert CellKey("everyone", "other", None).could_hold("thigh.front", "demo-a14")
    assert not CellKey("everyone", "thigh.outer", None).could_hold("thigh.front", "demo-a14")
    assert not CellKey("everyone", "thigh.front", "demo-b10").could_hold("thigh.front", "demo-a14")


def test_ends_are_shared_and_between_19_and_24_editions_away():
    for slot in range(200):
        assert end_bucket(slot) % 6 == 0
        assert 19 <= end_bucket(slot) - slot <= 24
    assert len({end_bucket(slot) for slot in range(6, 12)}) == 1
    with pytest.raises(InvalidInput):
        end_bucket(-1)


# --- what is refused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("waiting", "options"),
    [
        (wears(2), {"slot_key": b""}),
        (wears(2), {"k": 1}),
        (wears(2), {"cap": 0}),
        (wears(2) + wears(1), {}),
        (wears(2, waited=-1), {}),
        (wears(2, places_open=-1), {}),
        (wears(2, site="elbow"), {}),
    ],
)
def test_senseless_input_is_refused(waiting, options):
    with pytest.raises(InvalidInput):
        plan_of(waiting, **options)


def test_a_scope_without_threshold_is_refused():
    with pytest.raises(InvalidInput, match="everyone"):
        plan(wears(2), slot_key=SLOT_KEY, k_of={"harbour": 5})


def test_everyone_may_not_promise_less_than_a_group_that_feeds_it():
    with pytest.raises(InvalidInput, match="harbour"):
        plan(wears(2), slot_key=SLOT_KEY, k_of={"harbour": 6, EVERYONE: 5})


def test_nothing_waiting_is_a_plan_too():
    assert plan_of([]) == Plan((), (), ())
