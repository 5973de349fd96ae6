"""Sums for the auditor's tests: who is in them can be read off their atoms."""

from itertools import combinations

import numpy as np

from pooling.audit import AuditRow, audit
from pooling.audit.rows import Component, checked_terms

K = 5
PEOPLE = [f"p{number:02d}" for number in range(24)]


def block(name, people, *, wears=1):
    """One sum of fresh atoms: each person's own, for this sum only."""
    return AuditRow(name, "block", tuple(f"{name}/{person}/{wear}" for person in people for wear in range(wears)))


def owners(*rows):
    return {atom: atom.split("/")[1] for row in rows for atom in row.atoms}


def verdict_on(*rows, k=K):
    return audit(rows, owners(*rows), k=k)


def rest(row, *people):
    """The row without the atoms of these people."""
    return AuditRow(row.record, row.kind, tuple(atom for atom in row.atoms if atom.split("/")[1] not in people))


def union(name, *rows, kind="bundle"):
    return AuditRow(name, kind, tuple(dict.fromkeys(atom for row in rows for atom in row.atoms)))


def system_of(rows, person_of=None, *, k=K):
    """The rows as one system, whether or not they hang together."""
    terms = tuple(checked_terms(number, row) for number, row in enumerate(rows))
    return Component(tuple(rows), terms, owners(*rows) if person_of is None else person_of, k).system


FIRST, SECOND, THIRD = (block(name, PEOPLE[start : start + 6]) for name, start in (("a", 0), ("b", 6), ("c", 0)))


PRIME = 2**61 - 1


def rank(rows):
    """Rank modulo a prime: no rounding, and too small only if a determinant happens to be a multiple of it."""
    rows = [list(row) for row in rows]
    found = 0
    for column in range(len(rows[0]) if rows else 0):
        pivot = next((place for place in range(found, len(rows)) if rows[place][column]), None)
        if pivot is None:
            continue
        rows[found], rows[pivot] = rows[pivot], rows[found]
        inverse = pow(rows[found][column], -1, PRIME)
        for place in range(found + 1, len(rows)):
            factor = rows[place][column] * inverse % PRIME
            if factor:
                rows[place] = [(a - factor * b) % PRIME for a, b in zip(rows[place], rows[found], strict=True)]
        found += 1
    return found


def whole(value):
    """A number that binary holds exactly, modulo the prime."""
    numerator, denominator = float(value).as_integer_ratio()
    return numerator * pow(denominator, -1, PRIME) % PRIME


def isolated_sets(rows, person_of, size):
    """Sets of people alone in some combination: leaving out their columns loses rank."""
    atoms = sorted({atom for row in rows for atom in row.atoms})
    table = [[whole(row.terms().get(atom, 0)) for atom in atoms] for row in rows]
    everything = rank(table)
    people = sorted({person_of.get(atom, atom) for atom in atoms})
    for chosen in combinations(people, size):
        kept = [place for place, atom in enumerate(atoms) if person_of.get(atom, atom) not in chosen]
        if rank([[row[place] for place in kept] for row in table]) < everything:
            yield chosen


def fewest_left(rows, person_of, k):
    """The fewest people below k whom some combination leaves, by trying all sets; None if there are none."""
    return next((size for size in range(1, k) if any(isolated_sets(rows, person_of, size))), None)


def random_rows(seed, *, weights, n_people=8):
    """A small system of rows that overlap much; its numbers are exact in binary, so that others see the same."""
    rng = np.random.default_rng(seed)
    n_atoms, n_rows = int(rng.integers(9, 15)), int(rng.integers(2, 8))
    person_of = {f"w{atom}": f"p{rng.integers(0, n_people)}" for atom in range(n_atoms)}
    rows = []
    for number in range(n_rows):
        held = tuple(f"w{atom}" for atom in np.flatnonzero(rng.random(n_atoms) < 0.75))
        values = tuple((rng.integers(1, 9, len(held)) / 16).tolist()) if weights else None
        rows.append(AuditRow(str(number), "row", held, values))
    return rows, person_of
