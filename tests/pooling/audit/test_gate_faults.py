"""Faults planted in what was sealed, and histories without freshness: the auditor refuses them."""

import numpy as np
import pytest

from pooling.audit import AuditRow, audit
from pooling.ledger import Waiting, plan
from tests.pooling.audit.sums import FIRST, PEOPLE, SECOND, THIRD, K, block, owners, rest, union, verdict_on


def counted_records():
    """Three people with two wears each."""
    return [block("a", PEOPLE[:3], wears=2)]


def edited_in_place():
    return [FIRST, AuditRow("a", "block", rest(FIRST, "p00").atoms)]


def appended_to_an_open_block():
    return [FIRST, AuditRow("a", "block", (*FIRST.atoms, "new/p20/0"))]


def replaced_by_a_newcomer():
    """One leaves, one joins: two people between the versions."""
    return [FIRST, AuditRow("a", "block", (*rest(FIRST, "p00").atoms, "new/p20/0"))]


def survivors_packed_again():
    """The block closes when somebody leaves, and its survivors enter another with too few fresh people."""
    fresh = block("fresh", PEOPLE[20:22])
    return [FIRST, SECOND, union("packed", rest(FIRST, "p00"), fresh), union("whole", FIRST, fresh)]


def survivors_count_as_fresh():
    return [block("a", PEOPLE[:8]), AuditRow("again", "block", block("a", PEOPLE[1:8]).atoms)]


def fresh_for_each_table():
    """By site k people are fresh, by model k people are fresh, and the two tables cut the same wears differently."""
    wears = block("w", PEOPLE[:20])
    by_site = [AuditRow(f"site{n}", "block", wears.atoms[10 * n : 10 * n + 10]) for n in range(2)]
    by_model = [
        AuditRow("model0", "block", (*wears.atoms[:9], *wears.atoms[10:19])),
        AuditRow("all but one", "block", wears.atoms[:19]),
    ]
    return [*by_site, *by_model]


def two_groups_and_everyone():
    """Everyone's sum, less those of two groups, is the one who is in neither."""
    return [union("everyone", FIRST, SECOND, block("none", ["p20"])), FIRST, SECOND]


def overlapping_groups():
    """Three share with one group and not with the other; each group is large enough."""
    return [block("a", PEOPLE[:12]), AuditRow("other", "block", block("a", PEOPLE[3:12]).atoms)]


def part_that_leaves_one():
    """Parts of a bundle of two blocks: all of the one and a single person of the other."""
    return [FIRST, SECOND, AuditRow("part", "part", (*FIRST.atoms, SECOND.atoms[0]))]


def part_without_fresh_people():
    """A bundle whose part holds one survivor of an ended block and nobody else of it."""
    bundle = block("b", PEOPLE[6:12])
    return [FIRST, bundle, AuditRow("part", "part", (*bundle.atoms, FIRST.atoms[2]))]


def two_partitions_at_once():
    """Phases and ranges of one block; each part has k people, yet few straddle both."""
    whole = block("w", PEOPLE[:12], wears=2)
    early = AuditRow("early", "part", whole.atoms[:12])
    low = AuditRow("low", "part", (*whole.atoms[:11], whole.atoms[12]))
    return [whole, early, low]


def tie_edited_in_place():
    tie = AuditRow("tie", "tie", FIRST.atoms, (0.5, 0.4, 0.3, 0.5, 0.2, 0.1))
    return [tie, AuditRow("tie", "tie", FIRST.atoms[1:], (0.4, 0.3, 0.5, 0.2, 0.1))]


def ties_appended_one_by_one():
    return [AuditRow(f"tie{n}", "tie", THIRD.atoms + SECOND.atoms[:n]) for n in range(3)]


def nearly_all_wear_both():
    """Equal weights: the two blocks less twice the tie leave the only one who wore a single cell."""
    one, two = block("one", PEOPLE[:8]), block("two", PEOPLE[:9])
    linkers = PEOPLE[:8]
    atoms = tuple(f"{cell}/{person}/0" for cell in ("one", "two") for person in linkers)
    return [one, two, AuditRow("tie", "tie", atoms, (0.5,) * 8 + (-0.5,) * 8)]


def bundle_formed_again_from_survivors():
    both = union("bundle", FIRST, SECOND)
    return [both, AuditRow("bundle", "bundle", rest(both, "p00", "p07").atoms)]


def names_nobody():
    return [FIRST, AuditRow("empty", "block", ())]


PLANTS = [
    counted_records,
    edited_in_place,
    appended_to_an_open_block,
    replaced_by_a_newcomer,
    survivors_packed_again,
    survivors_count_as_fresh,
    fresh_for_each_table,
    two_groups_and_everyone,
    overlapping_groups,
    part_that_leaves_one,
    part_without_fresh_people,
    two_partitions_at_once,
    tie_edited_in_place,
    ties_appended_one_by_one,
    nearly_all_wear_both,
    bundle_formed_again_from_survivors,
    names_nobody,
]


class TestPlantedFaults:
    @pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.__name__)
    def test_refused_wherever_it_hides(self, plant):
        """Alone, and among clean rows, in any order."""
        rows = plant()
        assert not verdict_on(*rows).passed
        clean = [block(f"clean{number}", PEOPLE[number : number + 7]) for number in range(6)]
        history = [*clean[:3], *rows, *clean[3:]]
        order = np.random.default_rng(2).permutation(len(history))
        assert not verdict_on(*(history[place] for place in order)).passed

    def test_four_people(self):
        verdict = verdict_on(block("four", PEOPLE[:4]), FIRST)
        assert verdict.reasons == ("1 sum (block) speaks of fewer than 5 people",)

    def test_an_edit_by_one_person_is_seen_as_difference_and_as_combination(self):
        verdict = verdict_on(*edited_in_place())
        assert "1 pair of sums (block, block) differs by fewer than 5 people" in verdict.reasons
        assert "sums can be combined so that one person is left" in verdict.reasons

    def test_only_a_combination_shows_the_one_in_neither_group(self):
        verdict = verdict_on(*two_groups_and_everyone())
        assert verdict.reasons == ("sums can be combined so that one person is left",)

    def test_only_a_combination_shows_two(self):
        whole = union("everyone", FIRST, SECOND, block("none", ["p20", "p21"]))
        verdict = verdict_on(whole, FIRST, SECOND)
        assert verdict.reasons == ("sums can be combined so that two people are left",)

    def test_an_insider(self):
        """One takes out the own part of a sum and of another: whoever is then alone was covered by the insider only."""
        insider, victim = "p20", "p21"
        sums = [
            union("everyone", FIRST, SECOND, block("i", [insider]), block("v", [victim])),
            AuditRow("mixed", "block", (*FIRST.atoms, *SECOND.atoms)),
        ]
        assert "sums can be combined so that two people are left" in verdict_on(*sums).reasons

    def test_all_the_wears_of_one_person_count_once(self):
        """Twenty wears of one member beside three others look like a crowd."""
        crowd = (f"a/p00/{number}" for number in range(20))
        row = AuditRow("a", "block", (*crowd, "a/p01/0", "a/p02/0", "a/p03/0"))
        assert verdict_on(row).reasons == ("1 sum (block) speaks of fewer than 5 people",)

    def test_whoever_has_left_counts_alone(self):
        """Without the link nobody knows that two atoms were one person's; each is then protected by itself."""
        leaver = block("a", PEOPLE[:6])
        links = {atom: person for atom, person in owners(leaver).items() if person != "p00"}
        assert audit([leaver], links, k=K).passed
        version = AuditRow("a", "block", leaver.atoms[1:])
        assert not audit([leaver, version], links, k=K).passed

    def test_k_of_two_asks_only_for_one_person(self):
        pair = [block("a", PEOPLE[:2]), block("b", PEOPLE[2:4])]
        assert verdict_on(*pair, k=2).passed
        assert not verdict_on(*pair, union("u", *pair, block("one", ["p09"])), k=2).passed

    def test_no_name_in_a_reason(self):
        for plant in PLANTS:
            for reason in verdict_on(*plant()).reasons:
                assert not any(person in reason for person in PEOPLE)
                assert "/" not in reason


class TestHistoriesThatOnlyCountToK:
    """A threshold without freshness: members come and go, and each edition shows every cell with k people."""

    @staticmethod
    def history(rng, *, n_people=30, n_cells=4, n_editions=8, k=3):
        """Wears by cell; an edition has a sum for each cell, and for all cells together, that reaches k people."""
        cell = rng.integers(0, n_cells, 2 * n_people)
        person = rng.permutation(np.repeat(np.arange(n_people), 2))
        born, gone = rng.integers(0, n_editions, cell.size), rng.integers(3, 2 * n_editions, cell.size)
        rows = []
        for edition in range(n_editions):
            present = (born <= edition) & (edition < gone)
            for name, inside in [("all", present), *((c, present & (cell == c)) for c in range(n_cells))]:
                wears = np.flatnonzero(inside)
                if np.unique(person[wears]).size >= k:
                    rows.append(AuditRow(f"{edition}.{name}", "cell", tuple(f"w{wear}" for wear in wears)))
        return rows, {f"w{wear}": f"p{who}" for wear, who in enumerate(person)}

    @pytest.mark.parametrize("seed", range(10))
    def test_refused(self, seed):
        rows, person_of = self.history(np.random.default_rng(seed))
        verdict = audit(rows, person_of, k=3)
        assert not verdict.passed
        assert "sums can be combined so that one person is left" in verdict.reasons

    def test_refused_even_if_every_cell_waits_for_k_changes(self):
        """Each cell moves by nobody or by k people, at dates of its own; the sum over cells gives it away. The mistake
        that most would make."""
        atoms = [f"w{number}" for number in range(20)]
        rows = [
            AuditRow("all, then", "cell", tuple(atoms[:12])),
            AuditRow("cell, then", "cell", tuple(atoms[:6])),
            AuditRow("other, then", "cell", tuple(atoms[6:11])),
        ]
        verdict = audit(rows, {}, k=5)
        assert verdict.reasons == ("sums can be combined so that one person is left",)


class TestThePlanner:
    """What the planner of admission plans, slot after slot, and what it would be without its rules."""

    @staticmethod
    def slots(seed, *, n_slots=6, n_people=40):
        """New wears of each slot; people come back with wears of their own."""
        rng = np.random.default_rng(seed)
        sites = ["thigh.front", "thigh.outer", "abdomen.front", "chest"]
        for slot in range(n_slots):
            for number, person in enumerate(rng.choice(n_people, 30)):
                place, group = sites[rng.integers(len(sites))], f"g{person % 2}"
                yield (
                    slot,
                    Waiting(f"{slot}-{number}", f"p{person}", f"p{person}", group, True, place, "demo-a14", 9, True, 0),
                )

    @staticmethod
    def planned(waiting, slot):
        return plan(waiting, slot_key=bytes([slot]) * 16, k_of={"everyone": 3, "g0": 3, "g1": 3})

    def audited(self, blocks, wears):
        rows = [AuditRow(str(number), "block", block.wears) for number, block in enumerate(blocks)]
        return audit(rows, {wear.wear: wear.person for wear in wears}, k=3)

    @pytest.mark.parametrize("seed", range(3))
    def test_fresh_wears_only(self, seed):
        arrivals, pool, blocks = list(self.slots(seed)), [], []
        for slot in range(6):
            pool += [wear for when, wear in arrivals if when == slot]
            plan_of_slot = self.planned(pool, slot)
            pool = [wear for wear in pool if wear.wear in plan_of_slot.still_waiting]
            blocks += plan_of_slot.blocks
        assert len(blocks) > 20
        verdict = self.audited(blocks, [wear for _, wear in arrivals])
        assert verdict.passed, verdict.reasons

    @pytest.mark.parametrize("seed", range(3))
    def test_packed_anew_in_every_slot(self, seed):
        """Every block holds k people, and nothing is fresh."""
        arrivals = list(self.slots(seed))
        blocks = [
            block
            for slot in range(6)
            for block in self.planned([wear for when, wear in arrivals if when <= slot], slot).blocks
        ]
        assert not self.audited(blocks, [wear for _, wear in arrivals]).passed
