"""`python -m server sealversion`: a file in, a module out."""

import pytest
from django.core.management import CommandError, call_command

from pooling.edition import assemble, canonical_bytes, sha256_hex
from tests.pooling.conftest import make_context, make_fit, make_outcomes


def test_the_module_of_the_next_version_is_printed(tmp_path, capsys):
    content = canonical_bytes(assemble(make_fit(), make_context(), make_outcomes()))
    (tmp_path / "edition.json").write_bytes(content)
    call_command("sealversion", str(tmp_path / "edition.json"))
    made = {}
    printed = capsys.readouterr().out
    exec(compile(printed, "version_2.py", "exec"), made)
    assert made["SEAL_VERSION_2"].number == 2
    assert made["SEAL_VERSION_2"].channels["location"].person_sd == 0.043
    assert sha256_hex(content) in printed


@pytest.mark.parametrize("content", [b"", b"[]", b"{}", b'{"model": {"cells": [1]}}', b"\xff"])
def test_what_is_no_document_is_refused(tmp_path, content):
    (tmp_path / "edition.json").write_bytes(content)
    with pytest.raises(CommandError):
        call_command("sealversion", str(tmp_path / "edition.json"))


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(CommandError, match=r"gone\.json cannot be read"):
        call_command("sealversion", str(tmp_path / "gone.json"))
