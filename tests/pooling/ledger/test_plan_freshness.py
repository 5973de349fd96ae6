"""Whole histories of admission, attacked: who can be isolated, and what leaving changes.

Every set of fewer than k people is tried against every combination of all blocks ever planned. A combination isolates
a set if it depends on nobody outside the set and on somebody inside; such a combination exists exactly if striking the
set's columns from the matrix of blocks lowers its rank.

The same attack runs on a planner that only asks for k people a block and packs everybody anew each time. It is the
planner that most would write first, and it must break, or the attack proves nothing.
"""

import hashlib
import random
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import pytest

from pooling.ledger import OPEN_WEARS_CAP, CellKey, PlannedBlock, Waiting, end_bucket, plan

# The rank of a matrix of 0 and 1 is the same modulo this prime as over the fractions: it could differ only if the prime
# divided a non-zero minor, and by Hadamard's bound no minor of up to 36 rows reaches it. For larger matrices the rank
# modulo a prime is at worst too small, by a chance of about one in the prime.
PRIME = 2**61 - 1

N_SLOTS = 8
SITES = ("upper_arm.back", "upper_arm.outer", "calf")


@dataclass(frozen=True)
class Upload:
    wear: str
    person: str
    group: str
    feeds_everyone: bool
    site: str
    sensor_model: str
    slot: int


@dataclass(frozen=True)
class History:
    uploads: tuple[Upload, ...]
    gone_from: dict[str, int]  # the slot from which a person has left

    @property
    def people(self) -> tuple[str, ...]:
        return tuple(sorted({upload.person for upload in self.uploads}))

    def present(self, slot: int) -> list[Upload]:
        return [u for u in self.uploads if u.slot <= slot < self.gone_from.get(u.person, N_SLOTS)]


def random_history(seed: int) -> History:
    """One to three groups of up to seven people, some of whom leave; not every group feeds everyone."""
    rng = random.Random(seed)
    uploads = []
    gone_from = {}
    for group in range(rng.randint(1, 3)):
        feeds_everyone = rng.random() < 0.7
        for member in range(rng.randint(3, 7)):
            person = f"g{group}p{member}"
            joined = rng.choice((0, 0, 0, rng.randrange(N_SLOTS)))
            favourites = rng.sample(SITES, rng.randint(1, 2))
            for number in range(rng.randint(1, 4)):
                slot = min(N_SLOTS - 1, joined + rng.randrange(4))
                model = rng.choice(("demo-a14", "demo-a14", "demo-b10"))
                wear = f"{person}w{number}"
                uploads.append(Upload(wear, person, f"g{group}", feeds_everyone, rng.choice(favourites), model, slot))
            if rng.random() < 0.35:
                gone_from[person] = rng.randrange(1, N_SLOTS)
    return History(tuple(uploads), gone_from)


def slot_key(slot: int) -> bytes:
    return hashlib.sha256(f"slot {slot}".encode()).digest()


def waiting(upload: Upload, slot: int, places_open: int = 0) -> Waiting:
    return Waiting(
        wear=upload.wear,
        person=upload.person,
        wearer=upload.person,
        group=upload.group,
        feeds_everyone=upload.feeds_everyone,
        site=upload.site,
        sensor_model=upload.sensor_model,
        waited=slot - upload.slot,
        aged=True,
        places_open=places_open,
    )


def sealed(history: History, k: int, erased_from: int | None = None, leaver: str | None = None) -> list[PlannedBlock]:
    """Every block planned. If a leaver is named, their admitted wears are erased at that slot, places staying."""
    blocks: list[PlannedBlock] = []
    admitted: set[str] = set()
    places: list[tuple[str, CellKey, int]] = []
    for slot in range(N_SLOTS):
        uploads = history.present(slot)
        if leaver is not None and erased_from is not None and slot >= erased_from:
            uploads = [u for u in uploads if u.person != leaver or u.wear not in admitted]
        open_places = [(person, cell) for person, cell, end in places if slot < end]
        queue = [
            waiting(u, slot, sum(p == u.person and cell.could_hold(u.site, u.sensor_model) for p, cell in open_places))
            for u in uploads
            if u.wear not in admitted
        ]
        outcome = plan(queue, slot_key=slot_key(slot), k_of=lambda scope: k)
        blocks += outcome.blocks
        owner = {one.wear: one.wearer for one in queue}
        for block in outcome.blocks:
            admitted.update(block.wears)
            places += [(owner[wear], block.cell, end_bucket(slot)) for wear in block.wears]
    return blocks


def repacked(history: History, k: int) -> list[PlannedBlock]:
    """The naive planner: at every slot all wears still given are packed anew, k people a block, fresh or not."""
    blocks = []
    for slot in range(N_SLOTS):
        queue = [waiting(upload, slot) for upload in history.present(slot)]
        blocks += plan(queue, slot_key=slot_key(slot), k_of=lambda scope: k).blocks
    return blocks


def rank(rows: Iterable[Sequence[int]]) -> int:
    """Rank by exact elimination modulo PRIME."""
    basis: dict[int, list[int]] = {}
    for row in rows:
        rest = list(row)
        for column in range(len(rest)):
            if not rest[column]:
                continue
            if column not in basis:
                inverse = pow(rest[column], -1, PRIME)
                basis[column] = [value * inverse % PRIME for value in rest]
                break
            factor = rest[column]
            rest = [(value - factor * other) % PRIME for value, other in zip(rest, basis[column], strict=True)]
    return len(basis)


def isolated(blocks: Sequence[PlannedBlock], uploads: Sequence[Upload], k: int) -> list[tuple[str, ...]]:
    """Every set of 1 to k - 1 people that some combination of the blocks isolates."""
    person_of = {upload.wear: upload.person for upload in uploads}
    distinct = sorted({frozenset(block.wears) for block in blocks}, key=sorted)
    # Wears of one person that are in the same blocks always appear together: one column stands for them.
    patterns = sorted(
        {
            (person_of[wear], tuple(int(wear in block) for block in distinct))
            for wear in {wear for block in distinct for wear in block}
        }
    )
    people = sorted({person for person, _ in patterns})

    def rank_without(left_out: tuple[str, ...]) -> int:
        return rank([pattern for person, pattern in patterns if person not in left_out])

    whole = rank_without(())
    sets = (chosen for size in range(1, k) for chosen in combinations(people, size))
    return [chosen for chosen in sets if rank_without(chosen) < whole]


@pytest.mark.parametrize("k", [2, 3])
def test_no_combination_of_all_blocks_ever_planned_isolates_fewer_than_k_people(k):
    n_blocks = 0
    for seed in range(600):
        history = random_history(seed)
        blocks = sealed(history, k)
        n_blocks += len(blocks)
        assert isolated(blocks, history.uploads, k) == [], f"history {seed}"
    assert n_blocks > 1800


@pytest.mark.parametrize("k", [2, 3])
def test_the_same_attack_breaks_a_planner_that_only_counts_to_k(k):
    broken = 0
    for seed in range(100):
        history = random_history(seed)
        broken += bool(isolated(repacked(history, k), history.uploads, k))
    assert broken >= 60


def test_the_attack_sees_a_difference_of_one_person():
    uploads = [Upload(f"w{i}", f"p{i}", "g", True, SITES[0], "demo-a14", 0) for i in range(4)]
    cell = CellKey("g", SITES[0], None)
    before = PlannedBlock(cell, ("w0", "w1", "w2", "w3"), ("p0", "p1", "p2", "p3"))
    after = PlannedBlock(cell, ("w0", "w1", "w2"), ("p0", "p1", "p2"))
    assert isolated([before, after], uploads, k=3) == [("p3",), *[(f"p{i}", "p3") for i in range(3)]]
    assert isolated([after], uploads, k=3) == []


def test_no_wear_is_ever_in_two_blocks():
    for seed in range(30):
        entered = Counter(wear for block in sealed(random_history(seed), k=2) for wear in block.wears)
        assert set(entered.values()) <= {1}


def test_erasing_admitted_wears_changes_no_plan():
    """Leaving must not tell: the whole ledger is the same whether or when admitted wears are taken back."""
    n_compared = 0
    for seed in range(40):
        history = random_history(seed)
        blocks = sealed(history, k=2)
        for leaver in {person for block in blocks for person in block.people}:
            for slot in (1, 4, 6):
                assert sealed(history, k=2, erased_from=slot, leaver=leaver) == blocks
                n_compared += 1
    assert n_compared > 500


def test_a_planner_that_packs_anew_tells_who_left():
    """The counterpart of the test above: without freshness, leaving moves blocks in almost every history."""
    changed = 0
    for seed in range(20):
        history = random_history(seed)
        staying = [person for person in history.people if person not in history.gone_from]
        without = History(history.uploads, history.gone_from | {staying[0]: 4})
        changed += repacked(without, 2) != repacked(history, 2)
    assert changed >= 18


def test_the_cap_holds_over_a_whole_history():
    uploads = tuple(
        Upload(f"w{i}", f"p{i % 4}", "g", True, SITES[0], "demo-a14", slot=i % N_SLOTS) for i in range(12 * N_SLOTS)
    )
    owner = {upload.wear: upload.person for upload in uploads}
    entered = Counter(owner[wear] for block in sealed(History(uploads, {}), k=2) for wear in block.wears)
    assert dict(entered) == {f"p{i}": OPEN_WEARS_CAP for i in range(4)}
