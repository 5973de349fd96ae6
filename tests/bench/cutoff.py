"""What a cut-off spends on knowing counted wears again, beside all else it does."""

import time
from collections.abc import Callable
from contextlib import ExitStack
from typing import Any
from unittest.mock import patch

from tests.bench.runner import bench
from tests.redteam.world import fresh_world, new_group, new_member
from tests.server.records import raw
from tests.server.releasing import approve_at_once

N_MEMBERS, N_FAMILIES, ROUNDS = 30, 6, 5
SITES = ("thigh.front", "abdomen.flank", "upper_arm.back")
TOLD = {"skin": {"grade": 1, "signs": []}, "ratings": {"ease": 6, "comfort": 5, "discretion": 7, "rated_by": "self"}}


def _bring_wears() -> None:
    """Wears with an outcome in every family, approved, so that all of them are counted at once."""
    from server.accounts.selectors import wearer_of
    from server.groups.services import join_group
    from server.wears.services import accept_upload, give_to_group

    moderator = new_member()
    group = new_group("harbour", moderator)
    for number in range(N_MEMBERS):
        account = new_member().account
        join_group(group, account=account)
        for place, site in enumerate(SITES):
            record = raw(seed=100 * number + place, n_pairs=30, site=site, **TOLD)
            wear = accept_upload(record, account=account, wearer=wearer_of(account, None)).wear
            give_to_group(wear.pk, account=account, group=group)
            approve_at_once(group, wear.pk, by=moderator.account)


@bench("marks of counted wears at a cut-off: everything else of it", bound=1.2)
def marks_of_a_cut_off() -> float:
    """Looked up, packed, written and journalled, in six families of outcomes."""
    with fresh_world() as day, ExitStack() as patches:
        from django.db import transaction

        from server.editions import admission

        with transaction.atomic():
            _bring_wears()
        of_marks: list[float] = []

        def timed(work: Callable[..., Any]) -> Callable[..., Any]:
            def run(*inputs: Any, **named: Any) -> Any:
                start = time.process_time()
                try:
                    return work(*inputs, **named)
                finally:
                    of_marks.append(time.process_time() - start)

            return run

        for name in ("spend", "unspent"):
            patches.enter_context(patch.object(admission, name, timed(getattr(admission, name))))
        day.write_text("2031-03-01")
        fastest = [min(round) for round in zip(*(_cut_off(of_marks) for _ in range(ROUNDS)), strict=True)]
    return fastest[0] / fastest[1]


def _cut_off(of_marks: list[float]) -> tuple[float, float]:
    """Seconds for marks and for all else, of a cut-off that is undone."""
    from django.db import transaction

    from server.editions import admission

    of_marks.clear()
    with transaction.atomic():
        start = time.process_time()
        assert admission.run_cut_off(1, slot_key=b"of a bench")
        whole = time.process_time() - start
        transaction.set_rollback(True)
    assert len(of_marks) == N_FAMILIES + 1  # each family looks up, and all is written at once
    return sum(of_marks), whole - sum(of_marks)
