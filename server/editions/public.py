"""Reads of what anybody may read, each in one query: pages of readers are asked for most."""

from typing import Literal

from django.db.models import OuterRef, QuerySet, Subquery

from server.editions.models import Edition
from server.editions.selectors import EditionView, standing
from server.groups.models import Group
from server.groups.selectors import public_groups


def public_groups_with_newest() -> QuerySet[Group]:
    """The groups that anybody may read, each with the cut-off date of its newest edition as `newest_cut_off`."""
    newest = standing(Edition.objects.filter(group=OuterRef("pk"))).order_by("-slot")
    return public_groups().annotate(newest_cut_off=Subquery(newest.values("slot__cut_off")[:1]))


def public_sha256(slug: str, number: int | Literal["latest"]) -> str | None:
    """The identity of an edition that anybody may read and that stands."""
    editions = _public(slug)
    if number != "latest":
        editions = editions.filter(slot__number=number)
    return editions.order_by("-slot").values_list("sha256", flat=True).first()


def newest_public_edition(slug: str) -> EditionView | None:
    """The newest edition of a group that anybody may read, as far as one stands."""
    newest = _public(slug).order_by("-slot").only("slot_id", "sha256", "document").first()
    return None if newest is None else EditionView(slug, True, newest.number, newest.sha256, bytes(newest.document))


def _public(slug: str) -> QuerySet[Edition]:
    return standing(Edition.objects.filter(group__slug=slug, group__public=True))
