"""Parts of blocks at a cut-off: planned, and looked at by the auditor while it is still known which pairs are whose.

What parts rest on (who has pairs in which phase, range and prompt) is forgotten with the cut-off. So the auditor sees
them here, once, with the blocks and ties that hold the same pairs; parts that it does not pass are not sealed.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from typing import Protocol

from pooling import audit, ledger
from pooling.crossing import CROSSED
from pooling.summary import Sealable
from pooling.vocabulary import SITES

Crossings = list[ledger.Crossing]


class PersonLike(Protocol):
    @property
    def account(self) -> str: ...
    @property
    def wearer(self) -> str: ...


class WearLike(Protocol):
    @property
    def by_lot(self) -> bool: ...


class EntrantLike(Protocol):
    @property
    def wear(self) -> WearLike: ...
    @property
    def person(self) -> PersonLike: ...
    @property
    def summary(self) -> Sealable: ...


Numbered = tuple[int, ledger.PlannedTie]
Inside = Mapping[ledger.CellKey, Sequence[EntrantLike]]


def parts_to_seal(
    plan: ledger.Plan, blocks: Sequence[Sequence[EntrantLike]], k_of: Mapping[str, int]
) -> list[ledger.PlannedParts]:
    """Bundles of blocks whose wears may be summed part by part, and in which partitions."""
    inside = {block.cell: found for block, found in zip(plan.blocks, blocks, strict=True)}
    ties = _ties_by_scope(plan)
    return [
        parts
        for scope, cells in _by_scope(inside)
        for parts in _planned(cells, inside, k_of[scope])
        if _passes(parts, ties.get(scope, ()), inside, k_of[scope])
    ]


def lots_to_seal(
    plan: ledger.Plan, blocks: Sequence[Sequence[EntrantLike]], k_of: Mapping[str, int]
) -> list[ledger.CellKey]:
    """Cells whose wears by lot may be summed apart from chosen ones.

    Only those of one site and one sensor model: elsewhere the two sides would differ by where and what was worn.
    """
    inside = {block.cell: found for block, found in zip(plan.blocks, blocks, strict=True)}
    ties, linkers = _ties_by_scope(plan), {linker for tie in plan.ties for linker in tie.linkers}
    found: list[ledger.CellKey] = []
    for scope, cells in _by_scope(inside):
        planned = _planned_lots(_comparable(cells), linkers, inside, k_of[scope])
        if planned and _passes_by_lot(planned, [tie for _, tie in ties.get(scope, ())], inside, k_of[scope]):
            found += planned
    return found


def _by_scope(cells: Iterable[ledger.CellKey]) -> list[tuple[str, list[ledger.CellKey]]]:
    found: dict[str, list[ledger.CellKey]] = {}
    for cell in cells:
        found.setdefault(cell.scope, []).append(cell)
    return sorted(found.items())


def _ties_by_scope(plan: ledger.Plan) -> dict[str, list[Numbered]]:
    """Each with its number among all of them: the cells of a tie are of one scope."""
    found: dict[str, list[Numbered]] = {}
    for number, tie in enumerate(plan.ties):
        found.setdefault(tie.cells[0].scope, []).append((number, tie))
    return found


def _comparable(cells: Iterable[ledger.CellKey]) -> list[ledger.CellKey]:
    return sorted(cell for cell in cells if cell.place in SITES and cell.sensor_model)


def _planned_lots(
    cells: Iterable[ledger.CellKey], linkers: Collection[str], inside: Inside, k: int
) -> tuple[ledger.CellKey, ...]:
    wears = {cell: [(one.person.account, one.person.wearer, one.wear.by_lot) for one in inside[cell]] for cell in cells}
    return ledger.plan_lots(wears, k, linkers=linkers)


def _passes_by_lot(
    planned: Sequence[ledger.CellKey], ties: Sequence[ledger.PlannedTie], inside: Inside, k: int
) -> bool:
    """Whether the auditor passes both sides of all cells, with what is tied to them; a wear is one atom."""
    tied = [tie for tie in ties if not set(planned).isdisjoint(tie.cells)]
    cells = tuple(sorted(set(planned).union(*(tie.cells for tie in tied))))
    atoms = _Atoms(ledger.PlannedParts(cells, ()), inside, lambda one: [("lot" if one.wear.by_lot else "chosen",)])
    rows = [*atoms.blocks(), *(row for cell in planned for row in atoms.split(cell)), *atoms.ties(enumerate(tied))]
    return audit.audit(rows, atoms.account_of, k=k).passed


def _planned(cells: Sequence[ledger.CellKey], inside: Inside, k: int) -> tuple[ledger.PlannedParts, ...]:
    wears = {cell: [(one.person.account, _crossings(one.summary)) for one in inside[cell]] for cell in cells}
    return ledger.plan_parts(wears, k, together=ledger.bundles_to_try(cells))


def _crossings(summary: Sealable) -> Crossings:
    return [CROSSED[index] for index, own in summary.crossed.items() if own.n_pairs]


def _crossings_of(one: EntrantLike) -> Crossings:
    return _crossings(one.summary)


def _passes(parts: ledger.PlannedParts, ties: Sequence[Numbered], inside: Inside, k: int) -> bool:
    atoms = _Atoms(parts, inside)
    rows = [*atoms.blocks(), *atoms.parts(parts), *atoms.ties(ties)]
    return audit.audit(rows, atoms.account_of, k=k).passed


class _Atoms:
    """The pairs of a bundle's wears: one atom for each wear and crossing, all with weight 1."""

    def __init__(
        self,
        parts: ledger.PlannedParts,
        inside: Inside,
        crossings_of: Callable[[EntrantLike], Crossings] = _crossings_of,
    ) -> None:
        self.account_of: dict[str, str] = {}
        self.at: dict[ledger.CellKey, list[tuple[str, str, ledger.Crossing]]] = {}
        for cell in parts.cells:
            own = self.at.setdefault(cell, [])
            for index, one in enumerate(inside[cell]):
                for crossing in crossings_of(one):
                    atom = f"{cell.text}/{index}/{'/'.join(crossing)}"
                    self.account_of[atom] = one.person.account
                    own.append((atom, one.person.wearer, crossing))

    def blocks(self) -> Iterator[audit.AuditRow]:
        for cell, own in self.at.items():
            yield audit.AuditRow(cell.text, "block", tuple(atom for atom, _, _ in own))

    def parts(self, parts: ledger.PlannedParts) -> Iterator[audit.AuditRow]:
        everything = [found for own in self.at.values() for found in own]
        for place in parts.partitions:
            for part in sorted({crossing[place] for _, _, crossing in everything}):
                atoms = tuple(atom for atom, _, crossing in everything if crossing[place] == part)
                yield audit.AuditRow("parts", "part", atoms)

    def split(self, cell: ledger.CellKey) -> Iterator[audit.AuditRow]:
        """The sides of one cell, where crossings have one place."""
        for side in sorted({crossing for _, _, crossing in self.at[cell]}):
            yield audit.AuditRow(cell.text, "part", tuple(atom for atom, _, own in self.at[cell] if own == side))

    def ties(self, ties: Iterable[Numbered]) -> Iterator[audit.AuditRow]:
        """A tie counts as far as it lies in the bundle; cells outside of it hold other pairs and hide no one here."""
        for number, tie in ties:
            if set(tie.cells) <= self.at.keys():
                cells_of = self._cells_of(tie)
                for entry in tie.cells:
                    row = dict(self._linkers_at(tie, entry, cells_of))
                    yield audit.AuditRow(f"tie {number}", "tie", tuple(row), tuple(row.values()))

    def _cells_of(self, tie: ledger.PlannedTie) -> dict[str, set[ledger.CellKey]]:
        cells_of: dict[str, set[ledger.CellKey]] = {linker: set() for linker in tie.linkers}
        for cell in tie.cells:
            for wearer in {wearer for _, wearer, _ in self.at[cell]} & set(cells_of):
                cells_of[wearer].add(cell)
        return cells_of

    def _linkers_at(
        self, tie: ledger.PlannedTie, entry: ledger.CellKey, cells_of: Mapping[str, set[ledger.CellKey]]
    ) -> Iterator[tuple[str, float]]:
        for cell in tie.cells:
            for atom, wearer, _ in self.at[cell]:
                if entry in cells_of.get(wearer, ()):
                    yield atom, float(cell == entry) - 1 / len(cells_of[wearer])
