"""A new key, and what is stored under older ones carried to it.

The new key is added to the file first. Whoever looks a mark up tries every key of the chain, so nothing depends on the
moment: rows carried and rows not carried are known alike, and a rotation that was killed is finished by the next.
Carrying is one transaction. Older keys stay in the file, since a mark is HMAC_new(HMAC_old(x)) for good.
"""

from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from django.conf import settings
from django.db import transaction
from django.db.models import Max, Model

from server import env
from server.core import keys
from server.core.chunks import chunks
from server.core.locks import single_writer

Carrier = Callable[[], int]
_marked: dict[type[Model], Mapping[str, str]] = {}
_carriers: dict[str, Carrier] = {}
_versioned: set[type[Model]] = set()


def register_marks(model: type[Model], **purposes: str) -> None:
    """Have these columns of a model, which has a `key_version`, carried as marks, each made for its purpose."""
    _marked[model] = MappingProxyType(purposes)


def register(name: str, carrier: Carrier, *, model: type[Model] | None = None) -> None:
    """Have `carrier` called, which carries all of its rows to the newest key and says how many it had to.

    Where they are of a `model` that has a `key_version`, that tells too how new the keys in use are.
    """
    if _carriers.setdefault(name, carrier) is not carrier:
        raise RuntimeError(f"two carriers of {name}")
    if model is not None:
        _versioned.add(model)


def rotate() -> tuple[bool, dict[str, int]]:
    """Finish what an earlier rotation left, or else begin with a new key: whether it was new, and rows carried."""
    if left := carry_everything():
        return False, left
    add_key(settings.KEYS_FILE)
    return True, carry_everything()


def add_key(file: Path) -> None:
    """Put a fresh key at the end of the chain, in the file and in this process."""
    env.add_key(file)
    settings.KEYS = env.keys_in(file)


@transaction.atomic
def carry_everything() -> dict[str, int]:
    """Carry whatever is behind the newest key, all of it or nothing; say how many rows of what were."""
    with single_writer("cut-off"), single_writer("keys"):
        carried = {model._meta.label: _carry(model, purposes) for model, purposes in _marked.items()}
        carried |= {name: carrier() for name, carrier in _carriers.items()}
    return {name: n_rows for name, n_rows in carried.items() if n_rows}


def _carry(model: type[Model], purposes: Mapping[str, str]) -> int:
    rows = model._default_manager
    behind = list(rows.filter(key_version__lt=keys.key_version()).values_list("pk", flat=True))
    for chunk in chunks(behind):
        old = list(rows.filter(pk__in=chunk))
        rows.filter(pk__in=chunk).delete()  # a primary key may be a mark itself
        for row in old:
            for column, purpose in purposes.items():
                setattr(row, column, _carried(getattr(row, column), purpose, row.key_version))  # type: ignore[attr-defined]
            row.key_version = keys.key_version()  # type: ignore[attr-defined]
        rows.bulk_create(old)
    return len(behind)


def _carried(mark: str, purpose: str, version: int) -> str:
    """The same mark, in hexadecimal digits, under the newest key."""
    return keys.carried(purpose, bytes.fromhex(mark), made_under=version, n_bytes=len(mark) // 2).hex()


def newest_in_use() -> int:
    """The highest version of the keys that any stored mark was made under; 0 where there is none."""
    return max(
        (
            model._default_manager.aggregate(newest=Max("key_version"))["newest"] or 0
            for model in {*_marked, *_versioned}
        ),
        default=0,
    )
