"""What the auditor is shown of parts before they are sealed."""

from dataclasses import dataclass

from pooling import audit, ledger
from pooling.crossing import CROSSED, Crossed
from server.editions import parts

K = 5
CALF, CHEST = (ledger.CellKey("everyone", place, "demo-a14") for place in ("calf", "chest"))


@dataclass(frozen=True)
class Person:
    account: str

    @property
    def wearer(self):
        return f"{self.account}, self"


@dataclass(frozen=True)
class Summary:
    crossed: dict[int, Crossed]


@dataclass(frozen=True)
class Wear:
    by_lot: bool


@dataclass(frozen=True)
class Entrant:
    person: Person
    summary: Summary
    wear: Wear = Wear(by_lot=False)


def entrant(name, *cells, by_lot=False):
    return Entrant(Person(name), Summary({cell: Crossed(n_pairs=3, n_shown=3) for cell in cells}), Wear(by_lot=by_lot))


def plan_of(**at):
    """Blocks of everybody named, and the plan they come from."""
    cells = {"calf": CALF, "chest": CHEST}
    blocks = [ledger.PlannedBlock(cells[place], (), ()) for place in at]
    linked = [one.person.wearer for one in at["calf"] if one.person in {other.person for other in at.get("chest", ())}]
    ties = (ledger.PlannedTie((CALF, CHEST), tuple(linked)),) if len(linked) >= K else ()
    return ledger.Plan(tuple(blocks), ties, ()), list(at.values())


def full(n, prefix="p"):
    return [entrant(f"{prefix}{i}", *range(len(CROSSED))) for i in range(n)]


def test_blocks_of_people_with_pairs_everywhere_are_summed_by_everything():
    plan, blocks = plan_of(calf=full(6))
    assert parts.parts_to_seal(plan, blocks, {"everyone": K}) == [ledger.PlannedParts((CALF,), (0, 1, 2))]


def test_the_auditor_sees_blocks_parts_and_ties_over_the_same_pairs(monkeypatch):
    seen = []
    monkeypatch.setattr(audit, "audit", lambda rows, people, k: seen.extend(rows) or _Passed())
    plan, blocks = plan_of(calf=full(7), chest=[*full(6), *full(6, "q")])
    parts.parts_to_seal(plan, blocks, {"everyone": K})
    kinds = [row.kind for row in seen]
    assert (kinds.count("block"), kinds.count("part")) == (2, 2 * 9)
    atoms = [set(row.atoms) for row in seen if row.kind == "block"]
    for row in seen:
        assert any(set(row.atoms) <= own for own in atoms)


class _Passed:
    passed = True


def test_parts_that_the_auditor_does_not_pass_are_not_sealed(monkeypatch):
    """A planner that forgot its rule: of two prompts one is of a single person."""
    monkeypatch.setattr(ledger, "plan_parts", lambda wears, k, together: (ledger.PlannedParts(tuple(wears), (2,)),))
    crowd = [entrant(f"p{i}", 0, 3) for i in range(6)]
    plan, blocks = plan_of(calf=[*crowd, entrant("p9", 0, 1)])
    assert parts.parts_to_seal(plan, blocks, {"everyone": K}) == []


def test_ties_across_the_bundle_are_shown_with_equal_weights():
    atoms = parts._Atoms(ledger.PlannedParts((CALF, CHEST), (0,)), {CALF: full(5), CHEST: full(5)})
    tie = ledger.PlannedTie((CALF, CHEST), tuple(f"p{i}, self" for i in range(5)))
    first, second = atoms.ties([(0, tie)])
    assert set(first.coefficients) == {0.5, -0.5}
    assert [a + b for a, b in zip(first.coefficients, second.coefficients, strict=True)] == [0.0] * len(first.atoms)


def picked(n_lot, n_chosen, prefix="p"):
    return [entrant(f"{prefix}{i}", 0, by_lot=i < n_lot) for i in range(n_lot + n_chosen)]


def test_cells_with_enough_people_on_either_side_are_summed_by_lot():
    plan, blocks = plan_of(calf=picked(5, 5), chest=picked(4, 9, "q"))
    assert parts.lots_to_seal(plan, blocks, {"everyone": K}) == [CALF]


def test_who_links_cells_does_not_count_for_a_side():
    """All five whom a lot sent to the calf wear the chest too, and are tied."""
    crowd = picked(5, 5)
    plan, blocks = plan_of(calf=crowd, chest=[*crowd[:5], *full(6, "q")])
    assert plan.ties
    assert parts.lots_to_seal(plan, blocks, {"everyone": K}) == []


def test_only_one_site_and_one_model_are_compared():
    where = (ledger.CellKey("everyone", "calf", None), ledger.CellKey("everyone", "thigh", "demo-a14"))
    blocks = [ledger.PlannedBlock(cell, (), ()) for cell in where]
    assert (
        parts.lots_to_seal(ledger.Plan(tuple(blocks), (), ()), [picked(9, 9), picked(9, 9, "q")], {"everyone": K}) == []
    )


def test_sides_that_the_auditor_does_not_pass_are_not_sealed(monkeypatch):
    monkeypatch.setattr(ledger, "plan_lots", lambda wears, k, linkers: tuple(wears))
    plan, blocks = plan_of(calf=picked(3, 9))
    assert parts.lots_to_seal(plan, blocks, {"everyone": K}) == []
