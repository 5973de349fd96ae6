import pytest

from pooling.cli.exits import Exit
from pooling.cli.tokens import KEPT_AS
from tests.conftest import PASSWORD
from tests.pooling.cli.conftest import SERVER


@pytest.fixture
def member(new_member, sensor_model):
    return new_member()


def test_signing_in_keeps_a_token_and_no_password(commonwear, write, wear, line, member, typed, tokens_kept):
    typed(member.sign_in_name, PASSWORD)
    ended = commonwear("send", write(wear), "--server", SERVER, "--sign-in")
    assert ended.code == 0, ended.err
    assert "Signed in; the system's keyring keeps the token." in ended.err
    [(kept_for, token)] = tokens_kept.items()
    assert kept_for == (KEPT_AS, SERVER)
    assert token not in ended.out + ended.err
    assert PASSWORD not in ended.out + ended.err
    assert commonwear("send", write(wear, "b.json"), "--server", SERVER).code == 0


def test_without_a_keyring_the_token_lasts_for_the_command(commonwear, write, wear, line, member, typed, no_keyring):
    typed(member.sign_in_name, PASSWORD)
    ended = commonwear("send", write(wear), "--server", SERVER, "--sign-in")
    assert ended.code == 0
    assert "for this command only" in ended.err
    assert commonwear("send", write(wear), "--server", SERVER).code == Exit.SIGN_IN


def test_a_wrong_password_is_said_so_and_nothing_is_kept(commonwear, write, wear, line, member, typed, tokens_kept):
    typed(member.sign_in_name, "another four words here")
    ended = commonwear("send", write(wear), "--server", SERVER, "--sign-in")
    assert ended.code == Exit.SIGN_IN
    assert tokens_kept == {}
    assert line.posted() == []


def test_without_a_terminal_nobody_is_asked(commonwear, write, wear, line):
    ended = commonwear("send", write(wear), "--server", SERVER, "--sign-in")
    assert ended.code == Exit.USAGE
    assert "there is no terminal" in ended.err


def test_signing_out_ends_the_token_here_and_there(commonwear, line, member, tokens_kept):
    tokens_kept[KEPT_AS, SERVER] = member.token
    assert commonwear("sign-out", "--server", SERVER).code == 0
    assert tokens_kept == {}
    assert member.api.get("/api/v1/me/wearers/").status_code == 401


def test_a_token_that_has_ended_is_taken_out_all_the_same(commonwear, line, db, tokens_kept):
    tokens_kept[KEPT_AS, SERVER] = "ended long ago"
    assert commonwear("sign-out", "--server", SERVER).code == 0
    assert tokens_kept == {}


def test_whoever_is_not_signed_in_cannot_sign_out(commonwear, line, tokens_kept):
    assert commonwear("sign-out", "--server", SERVER).code == Exit.SIGN_IN


def test_a_second_factor_is_asked_for(
    commonwear, write, wear, line, member, typed, tokens_kept, monkeypatch: pytest.MonkeyPatch
):
    from server.accounts import second_factor

    monkeypatch.setattr("server.accounts.second_factor.time.time", lambda: 1_900_000_000)
    secret = second_factor.begin(member.account).secret
    second_factor.confirm(member.account, one_time_code=second_factor.code_at(secret, 1_900_000_000))
    typed(member.sign_in_name, PASSWORD, member.recovery_codes[0])
    ended = commonwear("send", write(wear), "--server", SERVER, "--sign-in")
    assert ended.code == 0
    assert len(member.api.get("/api/v1/wears/").json()["wears"]) == 1
