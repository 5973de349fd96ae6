"""The gate: everything ever sealed goes through it before anything may be shown."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from pooling.audit.angles import furthest_reaches
from pooling.audit.counts import miscounted, n_concentrated, thin_differences, thin_rows
from pooling.audit.proof import prove
from pooling.audit.rows import AuditRow, Component, System, checked_terms, components
from pooling.audit.search import Search, search, second_opinion
from pooling.audit.verdict import ComponentVerdict, Verdict, reasons_of
from pooling.errors import InvalidInput

NEARLY_ALONE = 0.95


def audit(
    rows: Sequence[AuditRow],
    person_of: Mapping[str, str],
    k: int,
    known: Mapping[str, ComponentVerdict] | None = None,
) -> Verdict:
    """Refuse rows of which one, the difference of two, or any combination speaks of too few people.

    Claim: if the verdict passes, every row speaks of at least k people; two rows differ by nobody or by at least k
    people; no linear combination of any number of rows is carried by one person alone, by two (for k above 2; this
    covers an insider who takes out the own part), or by any number below k of which the verdict says that it was proved
    or tried completely; and no combination is more than 95 % one person's, by squared length. It knows no list of
    attacks and no rule of a planner.

    Assumptions: rows are everything ever sealed in all groups, ended records included, with the candidate. Somebody
    whose link to the atoms is gone counts once for each atom. Rows that were made for more people than others are also
    looked at by themselves, held to their own k.

    Parameters
    ----------
    rows : sequence of AuditRow
        Order does not matter.
    person_of : mapping from atom to person
        An atom that is not in it is a person of its own.
    k : int, at least 2
        The fewest people a sum may speak of that carries no k of its own.
    known : mapping from digest to ComponentVerdict, optional
        What earlier verdicts hold as `components`. Rows that hang together exactly as they did are not tested again.

    Returns
    -------
    Verdict
        Its `components` are those of these rows, known ones included.

    Raises
    ------
    InvalidInput
        k below 2, an atom twice in one row, or coefficients that are not finite or do not match the atoms.

    Notes
    -----
    A combination of rows that is zero outside the atoms S exists exactly if their smallest principal angle is zero
    (`angles`). Most rows need no angle, because a proof covers all sets at once (`proof`); where none is found, ones
    and twos are exhausted and larger sets searched (`search`). Rows without a common atom cannot help one another.
    Samples are drawn with the digest of the rows as seed, so the same rows get the same verdict.

    Examples
    --------
    >>> block = AuditRow("first", "block", ("a", "b", "c", "d", "e"))
    >>> audit([block], {}, k=5).passed
    True
    >>> audit([block, AuditRow("second", "block", ("a", "b", "c", "d", "e", "f"))], {}, k=5).reasons
    ('1 pair of sums (block, block) differs by fewer than 5 people', 'sums can be combined so that one person is left')
    """
    if k < 2:
        raise InvalidInput(f"k is {k}; a sum must speak of at least 2 people.")
    terms = [checked_terms(number, row) for number, row in enumerate(rows)]
    known = known or {}
    found: dict[str, ComponentVerdict] = {}
    everyone: set[str] = set()
    atoms: set[str] = set()
    n_components = 0
    of_row = [row.k or k for row in rows]
    for least in sorted(set(of_row)):
        held = [number for number, own in enumerate(of_row) if own >= least]
        for component in components([rows[n] for n in held], [terms[n] for n in held], person_of, k=least):
            digest = component.digest
            if digest not in found:
                found[digest] = known[digest] if digest in known else verdict_on(component)
            if least == min(of_row):
                n_components += 1
                everyone |= component.people.keys()
                atoms.update(component.atoms)
    verdicts = found.values()
    reasons = reasons_of(verdicts)
    fewest = [verdict.fewest_found for verdict in verdicts if verdict.fewest_found is not None]
    return Verdict(
        passed=not reasons,
        reasons=reasons,
        n_rows=len(rows),
        n_atoms=len(atoms),
        n_people_tested=len(everyone),
        n_pairs_tested=sum(verdict.n_pairs for verdict in verdicts),
        n_components=n_components,
        n_components_known=len(found.keys() & known.keys()),
        n_rows_proved=sum(verdict.n_rows_proved for verdict in verdicts),
        n_rows_searched=sum(verdict.n_rows_searched for verdict in verdicts),
        n_sets_tested=sum(verdict.n_sets for verdict in verdicts),
        n_targets_tested=sum(verdict.n_targets for verdict in verdicts),
        n_concentrated=sum(verdict.n_concentrated for verdict in verdicts),
        fewest_found=min(fewest, default=None),
        furthest_reach=max((verdict.furthest_reach for verdict in verdicts), default=0.0),
        complete=all(verdict.complete for verdict in verdicts),
        k=tuple(sorted(set(of_row))),
        components=found,
    )


def verdict_on(component: Component) -> ComponentVerdict:
    """All tests on rows that hang together."""
    system, k = component.system, component.k
    kinds = [row.kind for row in component.rows]
    rng = np.random.default_rng(int(component.digest, 16))
    unit = system.with_unit_rows()
    proof = prove(unit, kinds, k)
    looked = _searches(unit, proof.core, k, rng)
    reaches = furthest_reaches(unit, enough=NEARLY_ALONE) if unit.person.size else np.zeros(1)
    return ComponentVerdict(
        k=k,
        n_rows=system.n_rows,
        n_people=len(component.people),
        thin_rows=_by_kind(kinds[row] for row in thin_rows(system, k)),
        thin_pairs=_by_kind(
            ", ".join(sorted((kinds[a], kinds[b]))) for a, b in thin_differences(system, k, among=proof.unproved)
        ),
        miscounted=_by_kind(kinds[row] for row in miscounted(component)),
        n_concentrated=n_concentrated(component),
        fewest_left=min((found.fewest_left for found in looked if found.fewest_left), default=None),
        nearly_alone=bool(reaches.max() >= NEARLY_ALONE),
        furthest_reach=float(reaches.max()),
        untested=any(found.too_large for found in looked),
        n_rows_proved=proof.n_rows_proved,
        n_rows_searched=system.n_rows - proof.n_rows_proved,
        n_pairs=sum(found.n_pairs for found in looked),
        n_sets=sum(found.n_sets for found in looked),
        n_targets=sum(found.n_targets for found in looked),
        fewest_found=min((found.fewest_found for found in looked if found.fewest_found), default=None),
        complete=all(found.complete for found in looked),
    )


def _searches(system: System, core: System, k: int, rng: np.random.Generator) -> list[Search]:
    """Look at each set of combinations that hang together and about which nothing was proved, and at a few others."""
    if system.n_rows == 1:
        # A row has no combination but itself, and whom that speaks of is counted.
        return []
    parts = [System(core.matrix[rows][:, columns], core.person[columns]) for rows, columns in core.connected()]
    found = [search(part, k, rng) for part in parts if part.person.size]
    return [*found, second_opinion(system, k, rng)]


def _by_kind(kinds: Iterable[str]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(Counter(kinds).items()))
