"""What somebody can expect of a new wear: own wears, as handed in, and a group's newest edition."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pooling.errors import InvalidInput
from pooling.own import Expectation, OwnWear, expectation
from pooling.vocabulary import SITES
from server.core.errors import Invalid, NotFound
from server.editions.selectors import EditionView, edition_for_reader
from server.groups.selectors import everyone, group_for_reader

if TYPE_CHECKING:
    from server.accounts.models import Account

__all__ = ["SITES", "GroupExpectation", "expectation_in"]


@dataclass(frozen=True, slots=True)
class GroupExpectation:
    """An own estimate, and the edition that the pool's part of it is from; None while published studies stand in."""

    edition: int | None
    expectation: Expectation


def expectation_in(
    slug: str, account: "Account | None", wears: Sequence[OwnWear], *, site: str, sensor_model: str | None = None
) -> GroupExpectation:
    """What to expect at a site, by a group's newest edition; before there is one, by published studies."""
    group_for_reader(slug, account)
    view = _newest(slug, account)
    try:
        found = expectation(wears, view.document if view else None, site=site, sensor_model=sensor_model or None)
    except InvalidInput:
        raise Invalid(f"Name a site: ?site= and one of {', '.join(SITES)}.") from None
    return GroupExpectation(view.number if view and found.basis == "edition" else None, found)


def document_of_everyone() -> Mapping[str, Any] | None:
    """The newest edition of everyone, which anybody may read, as far as there is one."""
    view = _newest(everyone().slug, None)
    return None if view is None else view.document


def _newest(slug: str, account: "Account | None") -> EditionView | None:
    try:
        return edition_for_reader(slug, "latest", account)
    except NotFound:
        return None
