from contextlib import ExitStack
from uuid import UUID

import pytest

from server.core.alone import one_at_a_time
from server.core.errors import TooMany

ONE, ANOTHER = UUID(int=1), UUID(int=2)


def test_costly_work_of_one_account_waits_for_its_own_and_for_nobody_elses():
    with one_at_a_time(ONE):
        with pytest.raises(TooMany) as told, one_at_a_time(ONE):
            pass
        assert told.value.retry_after_s > 0
        with one_at_a_time(ANOTHER):
            pass
    with one_at_a_time(ONE):
        pass


@pytest.mark.parametrize(("room", "at_once"), [(8, 4), (2, 1), (1, 1)])
def test_half_of_the_room_is_left_to_pages(settings, room, at_once):
    settings.MOST_REQUESTS = room
    with ExitStack() as work:
        for number in range(at_once):
            work.enter_context(one_at_a_time(UUID(int=number)))
        with pytest.raises(TooMany), one_at_a_time(UUID(int=99)):
            pass


def test_what_breaks_gives_room_again():
    for _ in range(2):
        with pytest.raises(ValueError, match="ours"), one_at_a_time(ONE):
            raise ValueError("something of ours")
