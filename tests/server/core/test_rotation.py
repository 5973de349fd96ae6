"""A rotation carries everything stored, in one transaction; one killed in the middle leaves the old state."""

from dataclasses import replace

import pytest
from django.apps import apps
from django.core.management import call_command

from server import env
from server.accounts.models import RecoveryCode, RememberedMapping
from server.accounts.services import recover
from server.core import keys, rotation
from server.core.idempotency import answer_once
from server.core.models import IdempotencyKey
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db


@pytest.fixture
def keys_file(settings, tmp_path):
    """Keys of this test alone, in a file."""
    settings.KEYS_FILE = env.keys_file("NO_SUCH_VARIABLE", tmp_path / "keys.json")
    settings.KEYS = env.keys_in(settings.KEYS_FILE)
    return settings.KEYS_FILE


def versions(model):
    return set(model.objects.values_list("key_version", flat=True))


def test_every_model_that_names_its_keys_is_carried():
    named = {
        model
        for model in apps.get_models()
        if any(field.name == "key_version" for field in model._meta.concrete_fields)
    }
    assert named == {*rotation._marked, *rotation._versioned}


def test_what_was_known_before_is_known_after(keys_file, new_member):
    member, other = new_member(), new_member()
    answer_once("a key", account_id=member.account.pk, body=b"body", act=lambda: (201, {"number": 1}))
    before = set(RecoveryCode.objects.values_list("digest", flat=True))
    is_new, carried = rotation.rotate()
    assert (is_new, carried) == (True, {"accounts.RecoveryCode": 12, "core.IdempotencyKey": 1})
    assert versions(RecoveryCode) == versions(IdempotencyKey) == {2}
    assert not before & set(RecoveryCode.objects.values_list("digest", flat=True))
    again = answer_once("a key", account_id=member.account.pk, body=b"body", act=lambda: (500, {}))
    assert again == (201, {"number": 1})
    assert recover(member.sign_in_name, recovery_code=member.recovery_codes[0], password=PASSWORD)
    rotation.rotate()
    assert len(env.keys_in(keys_file).mac_keys) == 3
    assert recover(other.sign_in_name, recovery_code=other.recovery_codes[0], password=PASSWORD)


def test_a_rotation_killed_in_the_middle_leaves_the_old_state_and_the_next_finishes_it(
    keys_file, new_member, monkeypatch
):
    member = new_member()
    answer_once("a key", account_id=member.account.pk, body=b"body", act=lambda: (201, {}))
    before = set(RecoveryCode.objects.values_list("digest", "key_version"))
    n_calls = []

    def dies_the_second_time():
        n_calls.append(1)
        if len(n_calls) == 2:
            raise KeyboardInterrupt
        return 0

    with monkeypatch.context() as patch:
        patch.setitem(rotation._carriers, "what knows a wear again", dies_the_second_time)
        with pytest.raises(KeyboardInterrupt):
            rotation.rotate()
    assert keys.key_version() == len(env.keys_in(keys_file).mac_keys) == 2
    assert set(RecoveryCode.objects.values_list("digest", "key_version")) == before
    assert versions(IdempotencyKey) == {1}
    is_new, carried = rotation.rotate()
    assert not is_new
    assert carried["accounts.RecoveryCode"] == 6
    assert recover(member.sign_in_name, recovery_code=member.recovery_codes[0], password=PASSWORD)


def test_rows_written_under_different_keys_are_each_carried_from_their_own(keys_file, new_member):
    early = new_member()
    rotation.add_key(keys_file)
    late = new_member()
    assert versions(RecoveryCode) == {1, 2}
    rotation.add_key(keys_file)
    rotation.carry_everything()
    assert versions(RecoveryCode) == {3}
    for member in (early, late):
        assert recover(member.sign_in_name, recovery_code=member.recovery_codes[0], password=PASSWORD)


def test_a_mapping_is_remembered_across_keys_once(keys_file, stranger):
    RememberedMapping.objects.create(account=stranger.account, mark=keys.mac("column mapping", b"x").hex(), content={})
    rotation.rotate()
    row = RememberedMapping.objects.get()
    assert (row.mark, row.key_version) == (keys.mac("column mapping", b"x").hex(), 2)


def test_nothing_is_behind_while_there_is_one_key(new_member, settings):
    new_member()
    assert rotation.carry_everything() == {}
    assert rotation.newest_in_use() == 1
    settings.KEYS = replace(settings.KEYS, mac_keys=(*settings.KEYS.mac_keys, "a7" * 32))
    assert rotation.newest_in_use() == 1


def test_two_carriers_of_one_name_are_refused():
    with pytest.raises(RuntimeError, match="two carriers"):
        rotation.register("what knows a wear again", dict)


def test_the_command_says_what_it_did(keys_file, new_member, capsys):
    new_member()
    call_command("rotate_keys")
    said = capsys.readouterr().out
    assert "6 rows of accounts.RecoveryCode" in said
    assert "A new key is in use" in said
    rotation.add_key(keys_file)
    call_command("rotate_keys")
    assert "An earlier rotation is finished" in capsys.readouterr().out
