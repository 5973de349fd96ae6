"""The drill: admit, rotate, bring the same wears again; they are known, their copies too, and nothing else changed."""

import pytest

from server import env
from server.core import keys, rotation
from server.core.errors import Conflict
from server.editions.models import RecordKind, SealedRecord, SpentMarks
from server.wears import copies
from server.wears.models import Awaited, Wear
from server.wears.services import erase_wear
from server.wears.transitions import State
from tests.server.editions.conftest import THIGH
from tests.server.editions.marks import spent_marks
from tests.server.records import pairs

pytestmark = pytest.mark.django_db


@pytest.fixture
def counted(pool, settings, tmp_path):
    """Five people whose wears were counted and then erased."""
    settings.KEYS_FILE = env.keys_file("NO_SUCH_VARIABLE", tmp_path / "keys.json")
    settings.KEYS = env.keys_in(settings.KEYS_FILE)
    members = pool.members(5)
    wears = [pool.wear(member, seed=2000 + number) for number, member in enumerate(members)]
    pool.cut_off(1)
    for member, wear in zip(members, wears, strict=True):
        erase_wear(wear.pk, account=member.account)
    return pool, members


def states():
    return sorted(Wear.objects.values_list("state", flat=True))


@pytest.mark.parametrize("n_rotations", [1, 3])
def test_what_was_counted_before_a_rotation_is_known_after_it(counted, n_rotations):
    pool, members = counted
    before = spent_marks()
    for _ in range(n_rotations):
        assert rotation.rotate()[0]
    assert keys.key_version() == 1 + n_rotations
    assert not before & spent_marks()
    assert len(spent_marks()) == len(before)
    for number, member in enumerate(members):
        pool.wear(member, seed=2000 + number)
    for number, member in enumerate(pool.members(5)):
        pool.wear(member, pairs=pairs(seed=2000 + number)[1:])
    pool.cut_off(2)
    assert states() == [State.APPROVED] * 10
    # Fresh wears enter as ever, and are spent under the newest key.
    pool.wears(pool.members(5), THIGH)
    pool.cut_off(3)
    assert Awaited.objects.filter(family="accuracy").count() == 10
    assert set(SpentMarks.objects.values_list("key_version", flat=True)) == {1 + n_rotations}


def test_wears_that_wait_over_a_rotation_keep_what_knows_them(counted):
    pool, members = counted
    waiting = [pool.wear(member, seed=3000 + number).pk for number, member in enumerate(members)]
    before = copies.bands_for(waiting)
    stored = {bytes(wear.likeness) for wear in Wear.objects.all()}
    rotation.rotate()
    assert copies.bands_for(waiting) == before
    anew = {bytes(wear.likeness) for wear in Wear.objects.all()}
    assert not anew & stored
    assert not any(map(keys.is_behind, anew))
    pool.cut_off(2)
    assert states() == [State.ADMITTED] * 5


def test_a_rotation_that_dies_leaves_the_old_state_and_copies_are_known_all_the_same(counted, monkeypatch):
    pool, members = counted
    before = spent_marks()

    def dies_under_a_new_key():
        if keys.key_version() == 2:
            raise KeyboardInterrupt
        return 0

    with monkeypatch.context() as patch:
        patch.setitem(rotation._carriers, "what knows a wear again", dies_under_a_new_key)
        with pytest.raises(KeyboardInterrupt):
            rotation.rotate()
    assert spent_marks() == before
    assert keys.key_version() == 2
    for number, member in enumerate(members):
        pool.wear(member, seed=2000 + number)
    pool.cut_off(2)
    assert states() == [State.APPROVED] * 5
    assert not rotation.rotate()[0]
    pool.cut_off(3)
    assert states() == [State.APPROVED] * 5
    assert SealedRecord.objects.filter(kind=RecordKind.BLOCK, family="accuracy").count() == 1


def test_a_process_with_the_old_keys_passes_no_cut_off(counted, settings):
    pool, _ = counted
    old = settings.KEYS
    rotation.rotate()
    settings.KEYS = old
    with pytest.raises(Conflict, match="start it again"):
        pool.cut_off(2)
