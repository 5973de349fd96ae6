"""A wear that its owner has uploaded before, perhaps with a few rows changed."""

from collections.abc import Collection, Iterator, Sequence

from pooling.checks.finding import Finding, counted
from pooling.likeness import alike


def near_duplicates(bands: Collection[int], earlier: Sequence[Collection[int]]) -> Iterator[Finding]:
    """Whether one's own earlier uploads hold this wear already, mostly or wholly.

    For earlier uploads of the same person only: of somebody else's nothing may be said (docs/PRIVACY.md).

    Parameters
    ----------
    bands
        `pooling.likeness.bands` of the wear.
    earlier
        Those of each earlier upload, under the same key.

    Yields
    ------
    Finding
        One, whatever the number of likenesses.

    Examples
    --------
    >>> [finding.code for finding in near_duplicates([1, 2, 3], [[7, 8, 9], [0, 2, 4]])]
    ['near_duplicate']
    """
    n_alike = sum(alike(bands, other) for other in earlier)
    if n_alike:
        yield Finding(
            "near_duplicate",
            "look",
            f"These readings are nearly those of {counted(n_alike, 'wear')} that you have uploaded before.",
            "Readings that are in twice count twice, and make figures look surer than they are.",
            "Keep the one that is right and erase the other.",
        )
