"""What the release of a batch does to wears, for tests that are about what comes after it."""

from __future__ import annotations

from typing import Any


def release(*wear_ids: Any) -> None:
    """Let moderators see these wears, as if enough others had come with them and a worker had looked for copies."""
    from server.wears.models import Wear

    Wear.objects.filter(pk__in=wear_ids).update(released=True)


def release_all() -> None:
    """The same of every wear that waits for its batch."""
    from server.wears.models import Wear

    Wear.objects.filter(state="queued").update(released=True)


def approve_at_once(group: Any, wear_id: Any, *, by: Any) -> None:
    """Release a wear and approve it."""
    from server.curation.services import approve_wear

    release(wear_id)
    approve_wear(group, wear_id, by=by)
