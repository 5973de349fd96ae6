"""What the auditor says: of one set of rows that hang together, and of all; in words that name nobody."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

_NUMBER = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


@dataclass(frozen=True, slots=True)
class ComponentVerdict:
    """The verdict on rows that hang together by common atoms, all of it in numbers; it can be kept under their digest.

    `thin_rows`, `thin_pairs` and `miscounted` count sums by kind. `fewest_left` is the least number of people below k
    that a combination was found to leave. `nearly_alone` says that a combination is almost one person's.
    `n_rows_proved` are the rows of which no combination carried by fewer than k people can make use, `n_rows_searched`
    the others. `complete` says that all sets below k were tried among those.
    """

    k: int
    n_rows: int
    n_people: int
    thin_rows: tuple[tuple[str, int], ...] = ()
    thin_pairs: tuple[tuple[str, int], ...] = ()
    miscounted: tuple[tuple[str, int], ...] = ()
    n_concentrated: int = 0
    fewest_left: int | None = None
    nearly_alone: bool = False
    furthest_reach: float = 0.0
    untested: bool = False
    n_rows_proved: int = 0
    n_rows_searched: int = 0
    n_pairs: int = 0
    n_sets: int = 0
    n_targets: int = 0
    fewest_found: int | None = None
    complete: bool = True

    @property
    def passed(self) -> bool:
        return not (
            self.thin_rows
            or self.thin_pairs
            or self.miscounted
            or self.fewest_left
            or self.nearly_alone
            or self.untested
        )


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the auditor found. A reason names kinds of sums and numbers of them, never a person or a record.

    `n_people_tested` are all people behind the rows; `n_pairs_tested` the pairs whose own angle was looked at, the
    others being ruled out by a proof or a bound; `n_components` the sets of rows that hang together by common atoms.
    `components` holds the verdict on each of these under its digest: pass it to a later audit, which then tests only
    what has changed. Of `n_rows`, `n_rows_proved` can be used by no combination carried by fewer than k people,
    whatever the number of these; `n_rows_searched` were searched for such combinations.
    """

    passed: bool
    reasons: tuple[str, ...]
    n_rows: int
    n_atoms: int
    n_people_tested: int
    n_pairs_tested: int
    n_components: int
    n_components_known: int = 0
    n_rows_proved: int = 0
    n_rows_searched: int = 0
    n_sets_tested: int = 0
    n_targets_tested: int = 0
    n_concentrated: int = 0
    fewest_found: int | None = None
    furthest_reach: float = 0.0
    complete: bool = True
    k: tuple[int, ...] = ()
    components: Mapping[str, ComponentVerdict] = field(default_factory=dict, repr=False)

    def certificate(self) -> str:
        """What was tested and found, for somebody who has to decide whether to believe it."""
        return "\n".join(_lines(self))


def reasons_of(verdicts: Iterable[ComponentVerdict]) -> tuple[str, ...]:
    """Why these do not pass, sorted; empty if they do."""
    thin_rows: Counter[tuple[int, str]] = Counter()
    thin_pairs: Counter[tuple[int, str]] = Counter()
    miscounted: Counter[str] = Counter()
    found = set()
    for verdict in verdicts:
        thin_rows.update({(verdict.k, kind): n for kind, n in verdict.thin_rows})
        thin_pairs.update({(verdict.k, kinds): n for kinds, n in verdict.thin_pairs})
        miscounted.update(dict(verdict.miscounted))
        if verdict.fewest_left:
            verb = "is" if verdict.fewest_left == 1 else "are"
            found.add(f"sums can be combined so that {_people(verdict.fewest_left)} {verb} left")
        if verdict.nearly_alone and verdict.fewest_left != 1:
            found.add("sums can be combined so that hardly more than one person is left")
        if verdict.untested:
            found.add("too many sums hang together without a proof to be searched")
    found |= {
        _counted(n, "sum", f"({kind})", "speaks", "speak", "of") + f" {k} people" for (k, kind), n in thin_rows.items()
    }
    found |= {
        _counted(n, "pair", f"of sums ({kinds})", "differs", "differ", "by") + f" {k} people"
        for (k, kinds), n in thin_pairs.items()
    }
    found |= {
        f"{n} {'sum' if n == 1 else 'sums'} ({kind}) {'says' if n == 1 else 'say'} another number of people than were "
        "given a place"
        for kind, n in miscounted.items()
    }
    return tuple(sorted(found))


def _counted(n: int, noun: str, which: str, one: str, many: str, link: str) -> str:
    return f"{n} {noun if n == 1 else noun + 's'} {which} {one if n == 1 else many} {link} fewer than"


def _people(n: int) -> str:
    return f"{_NUMBER[n] if n < len(_NUMBER) else n} {'person' if n == 1 else 'people'}"


def _lines(verdict: Verdict) -> Iterable[str]:
    yield "Passed." if verdict.passed else "Refused:"
    yield from (f"- {reason}." for reason in verdict.reasons)
    thresholds = " and ".join(str(k) for k in verdict.k) or "no"
    yield (
        f"Looked at: {verdict.n_rows} sums, everything ever made, over {verdict.n_atoms} contributions of "
        f"{verdict.n_people_tested} people, held to {thresholds} people. They fall into {verdict.n_components} sets "
        f"that share no contribution; {verdict.n_components_known} of these are unchanged and were tested before."
    )
    if len(verdict.k) > 1:
        yield "Sums made for more people than others were looked at once more among their like, and count again below."
    yield (
        f"Proved: {verdict.n_rows_proved} sums cannot be used in any combination that speaks of somebody but of fewer "
        "people than that, whatever their number and whoever they are."
    )
    yield (
        f"Searched, because no proof was found: {verdict.n_rows_searched} sums, for every one person and every two, "
        f"{verdict.n_pairs_tested} pairs one by one and the others by a bound; {verdict.n_sets_tested} sets of three "
        f"and more, {'which are all' if verdict.complete else 'drawn from more than can be tried'}."
    )
    found = "" if verdict.fewest_found is None else f"; the lightest spoke of {verdict.fewest_found} people"
    yield f"For {verdict.n_targets_tested} targets the lightest combination was computed{found}."
    yield f"The largest share of a combination that is one person's: {100 * verdict.furthest_reach:.0f} %."
    yield (
        f"In {verdict.n_concentrated} sums the second largest contributor knows the largest to within a quarter, going "
        "by their weights; this is said, not refused."
    )
