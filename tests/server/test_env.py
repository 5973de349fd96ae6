import json
import stat
from datetime import date

import pytest

from server import env

NAME = "COMMONWEAR_TEST"


@pytest.fixture
def given(monkeypatch):
    monkeypatch.delenv(NAME, raising=False)
    return lambda value: monkeypatch.setenv(NAME, value)


@pytest.mark.parametrize(("value", "meant"), [("yes", True), ("1", True), ("TRUE", True), ("no", False), ("0", False)])
def test_flag_reads_plain_words(given, value, meant):
    given(value)
    assert env.flag(NAME) is meant


@pytest.mark.parametrize(
    ("read", "value"),
    [
        (env.flag, "maybe"),
        (lambda name: env.whole(name, 1, at_least=5), "4"),
        (lambda name: env.whole(name, 1), "4.5"),
        (lambda name: env.day(name, None), "1 February"),
        (lambda name: env.url(name, schemes=("redis",)), "http://127.0.0.1"),
        (lambda name: env.choice(name, None, options=("a", "b")), "c"),
    ],
)
def test_an_odd_value_names_the_variable_and_where_it_is_explained(given, read, value):
    given(value)
    with pytest.raises(env.EnvironmentFault, match=rf"{NAME}.*deploy/env\.example"):
        read(NAME)


def test_unset_and_blank_give_the_default(given):
    assert env.whole(NAME, 7) == 7
    given("  ")
    assert env.text(NAME, None) is None
    assert env.day(NAME, date(2031, 2, 1)) == date(2031, 2, 1)
    assert env.choice(NAME, "a", options=("a", "b")) == "a"


def test_a_secret_comes_from_its_file(given, monkeypatch, tmp_path):
    held = tmp_path / "secret"
    held.write_text("in the file\n", encoding="utf-8")
    monkeypatch.setenv(f"{NAME}_FILE", str(held))
    assert env.secret(NAME, None) == "in the file"
    given("in the open")
    with pytest.raises(env.EnvironmentFault, match="both set"):
        env.secret(NAME, None)


@pytest.mark.parametrize("content", [None, "  \n"])
def test_a_secret_file_that_holds_none_is_refused(given, monkeypatch, tmp_path, content):
    held = tmp_path / "secret"
    if content is not None:
        held.write_text(content, encoding="utf-8")
    monkeypatch.setenv(f"{NAME}_FILE", str(held))
    with pytest.raises(env.EnvironmentFault, match=f"{NAME}_FILE"):
        env.secret(NAME, None)


def test_the_keys_file_is_made_once_and_for_its_owner_alone(given, tmp_path):
    file = env.keys_file(NAME, tmp_path / "new" / "keys.json")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    first = env.keys_in(file)
    assert env.keys_in(env.keys_file(NAME, file)) == first
    assert [path.name for path in file.parent.iterdir()] == ["keys.json"]


@pytest.mark.parametrize("content", ["", "{}", json.dumps({"secret_key": "s", "mac_keys": ["00"]})])
def test_a_keys_file_without_usable_keys_stops_the_start(tmp_path, content):
    file = tmp_path / "keys.json"
    file.write_text(content, encoding="utf-8")
    with pytest.raises(env.EnvironmentFault, match="COMMONWEAR_KEYS_FILE"):
        env.keys_in(file)


def test_a_key_is_added_behind_the_others_and_the_file_is_never_half_written(tmp_path, monkeypatch):
    file = env.keys_file(NAME, tmp_path / "keys.json")
    first = env.keys_in(file)
    env.add_key(file)
    second = env.keys_in(file)
    assert second.secret_key == first.secret_key
    assert second.mac_keys[:-1] == first.mac_keys
    assert second.mac_keys[-1] not in first.mac_keys
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["keys.json"]

    def cut_off(_descriptor):
        raise KeyboardInterrupt

    monkeypatch.setattr(env.os, "fsync", cut_off)
    with pytest.raises(KeyboardInterrupt):
        env.add_key(file)
    assert env.keys_in(file) == second
