import io

import pytest

from server.core import envelope
from server.core.envelope import EnvelopeError

KEY = bytes(range(32))
CONTENT = bytes(range(256)) * 10


@pytest.fixture
def sealed(monkeypatch):
    monkeypatch.setattr(envelope, "CHUNK_BYTES", 1000)
    stream = io.BytesIO()
    envelope.write(stream, [CONTENT[:300], CONTENT[300:]], key=KEY, head={"database": "sqlite"})
    return stream.getvalue()


def opened(content, key=KEY):
    return b"".join(envelope.read(io.BytesIO(content), key=key))


def test_what_went_in_comes_out_and_only_under_its_key(sealed):
    assert opened(sealed) == CONTENT
    assert CONTENT[:64] not in sealed
    with pytest.raises(EnvelopeError, match="under the key"):
        opened(sealed, bytes(32))


@pytest.mark.parametrize("cut", [1, 576, 1592])
def test_a_file_cut_short_is_refused(sealed, cut):
    with pytest.raises(EnvelopeError, match="cut short"):
        opened(sealed[:-cut])


def test_a_changed_byte_and_another_file_are_refused(sealed):
    with pytest.raises(EnvelopeError, match="damaged"):
        opened(sealed[:-1] + bytes([sealed[-1] ^ 1]))
    with pytest.raises(EnvelopeError, match="no backup"):
        opened(b"something else")


def test_a_key_is_made_once_for_its_owner_alone_and_read_as_it_is_printed(tmp_path):
    file = tmp_path / "key"
    key = envelope.new_key_file(file)
    assert file.stat().st_mode & 0o777 == 0o600
    assert envelope.new_key_file(file) == key
    file.write_text(envelope.in_letters(key).replace("-", " ").lower())
    assert envelope.key_in(file) == key
    file.write_text("not a key")
    with pytest.raises(EnvelopeError, match="holds no backup key"):
        envelope.key_in(file)
