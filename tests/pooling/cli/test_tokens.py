from pooling.cli import tokens

ADDRESS, OTHER = "https://pool.example", "https://other.example"


def test_a_token_is_kept_for_its_server_alone(tokens_kept, monkeypatch):
    monkeypatch.delenv(tokens.VARIABLE, raising=False)
    assert tokens.keep(ADDRESS, "kept")
    assert (tokens.token_for(ADDRESS), tokens.token_for(OTHER)) == ("kept", None)
    tokens.forget(ADDRESS)
    tokens.forget(ADDRESS)
    assert tokens.token_for(ADDRESS) is None
    assert tokens_kept == {}


def test_the_environment_goes_before_the_keyring(tokens_kept, monkeypatch):
    tokens.keep(ADDRESS, "kept")
    monkeypatch.setenv(tokens.VARIABLE, " given\n")
    assert tokens.token_for(ADDRESS) == "given"


def test_a_system_without_a_keyring_keeps_nothing_and_breaks_nothing(no_keyring, monkeypatch):
    monkeypatch.delenv(tokens.VARIABLE, raising=False)
    assert tokens.keep(ADDRESS, "kept") is False
    assert tokens.token_for(ADDRESS) is None
    tokens.forget(ADDRESS)
