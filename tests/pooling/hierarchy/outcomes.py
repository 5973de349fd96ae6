"""Small sealed pools of plain outcomes, for tests."""

from pooling.sealing import SEAL_VERSION_1, Cell, Member, SealedRecords, seal_slot
from pooling.summary import RatingsGiven
from tests.calibration.outcomes import Summary

SHARES = ("on3", "on7", "on10", "on14", "on_rated", "off_adhesive")


def seal(blocks, family: str) -> SealedRecords:
    return seal_slot(
        blocks, open_places=(), end_bucket=4, version=SEAL_VERSION_1, key=b"slot", k=5, family=family
    ).records


def people(summaries, *, first: int = 0, life: int = 14) -> list[Member]:
    return [Member(f"p{first + i}", f"a{first + i}", own, life) for i, own in enumerate(summaries)]


def days(n: int, share: float) -> list[Summary]:
    """A share of n wears lasts; the others fall off on the third day."""
    lasting = round(share * n)
    return [Summary()] * lasting + [Summary(worn_min=2 * 1440, end_reason="fell_off")] * (n - lasting)


def sealed_days(share: float, *, n: int = 20, places=("calf", "chest")) -> SealedRecords:
    blocks = [
        (Cell("everyone", place, "demo-a14"), people(days(n, share), first=100 * i)) for i, place in enumerate(places)
    ]
    return seal(blocks, "survival")


def sealed_ratings(values, *, places=("calf",)) -> SealedRecords:
    blocks = [
        (
            Cell("everyone", place, "demo-a14"),
            people([Summary(ratings=RatingsGiven(ease=value)) for value in values], first=100 * i),
        )
        for i, place in enumerate(places)
    ]
    return seal(blocks, "ease")
