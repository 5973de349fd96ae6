"""Editions of other servers, shown beside a group's own. Nothing is fetched and nothing is added up.

A moderator hands in the package as the other server gave it out, with that server's public key. The server looks at
nothing but the signed parts; the address is a label for readers and is never followed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit
from uuid import UUID

from django.db import IntegrityError, transaction

from pooling.edition.document import read_document
from pooling.edition.verifying import NoPackage, open_signed
from server.core.errors import Conflict, Fault, Invalid, NotFound
from server.editions.models import Neighbour
from server.editions.permissions import Permission, require
from server.groups.models import Group
from server.groups.selectors import group_for_reader

if TYPE_CHECKING:
    from server.accounts.models import Account

MOST_NEIGHBOURS = 20
LONGEST_ADDRESS = 200
KEY_DIGITS = 64
NO_SUCH_NEIGHBOUR = "There is no such edition of another server here, or it is not open to you."


@dataclass(frozen=True, slots=True)
class NeighbourView:
    """Another server's edition as readers get it: marked as not ours, with the caution that it came with."""

    id: UUID
    address: str
    public_key: str
    sha256: str
    group: str
    number: int
    cut_off: str
    its_caution: str
    document: Mapping[str, Any] | None = None
    ours: bool = False


@transaction.atomic
def add_neighbour(
    group: Group, package: bytes, *, address: str, public_key: str, sha256: str | None = None, by: "Account"
) -> Neighbour:
    """Show a signed edition of another server beside the group's own."""
    require_change(group, by=by)
    _check(address, public_key)
    try:
        found = open_signed(package, public_key=public_key, sha256=sha256)
    except NoPackage as error:
        message = f"{error.fault.file}: {error.fault.message}. {error.fault.do}"
        raise Invalid("Nothing was kept.", faults=[Fault(pointer="#/package", message=message)]) from None
    Group.objects.select_for_update().get(pk=group.pk)
    if Neighbour.objects.filter(group=group).count() >= MOST_NEIGHBOURS:
        raise Conflict(f"A group shows {MOST_NEIGHBOURS} editions of other servers at most. Take one off first.")
    try:
        with transaction.atomic():
            return Neighbour.objects.create(
                group=group,
                address=address,
                public_key=public_key.strip().lower(),
                sha256=found.sha256,
                document=found.content,
                certificate=found.certificate,
                signature=found.signature,
            )
    except IntegrityError:
        raise Conflict("This edition is shown here already.") from None


def remove_neighbour(group: Group, neighbour_id: UUID, *, by: "Account") -> None:
    require_change(group, by=by)
    n_removed, _ = Neighbour.objects.filter(group=group, pk=neighbour_id).delete()
    if not n_removed:
        raise NotFound(NO_SUCH_NEIGHBOUR)


def neighbours_of(slug: str, account: "Account | None") -> list[NeighbourView]:
    """What a group shows of other servers, by address and number."""
    group = group_for_reader(slug, account)
    views = [_view(row) for row in Neighbour.objects.filter(group=group)]
    return sorted(views, key=lambda view: (view.address, view.group, view.number, view.sha256))


def neighbour_for_reader(slug: str, neighbour_id: UUID, account: "Account | None") -> NeighbourView:
    group = group_for_reader(slug, account)
    row = Neighbour.objects.filter(group=group, pk=neighbour_id).first()
    if row is None:
        raise NotFound(NO_SUCH_NEIGHBOUR)
    return _view(row, whole=True)


def require_change(group: Group, *, by: "Account") -> None:
    require(Permission.NEIGHBOUR_CHANGE, group=group, account=by)


def _view(row: Neighbour, *, whole: bool = False) -> NeighbourView:
    document = read_document(bytes(row.document))
    return NeighbourView(
        id=row.pk,
        address=row.address,
        public_key=row.public_key,
        sha256=row.sha256,
        group=document["group"]["name"],
        number=document["number"],
        cut_off=document["cut_off"],
        its_caution=document["caution"]["text"],
        document=document if whole else None,
    )


def _check(address: str, public_key: str) -> None:
    faults = []
    if not _is_https(address):
        faults.append(Fault(pointer="#/address", message="Give the https:// address where this edition stands."))
    if len(public_key.strip()) != KEY_DIGITS or set(public_key.strip().lower()) - set("0123456789abcdef"):
        told = "The other server's public key has 64 hexadecimal digits; it stands at its /api/v1/signing-key/."
        faults.append(Fault(pointer="#/public_key", message=told))
    if faults:
        raise Invalid("Nothing was kept.", faults=faults)


def _is_https(address: str) -> bool:
    try:
        parts = urlsplit(address)
        plain = parts.username is None and parts.password is None and parts.hostname is not None
    except ValueError:
        return False
    printable = address.isprintable() and " " not in address
    return parts.scheme == "https" and plain and printable and len(address) <= LONGEST_ADDRESS
