import pytest

from pooling.caution import CAUTION_TEXT
from pooling.edition import canonical_bytes, sha256_hex
from pooling.edition.certificate import certificate_bytes
from pooling.edition.package import archive_bytes, package_bytes
from pooling.edition.verifying import read_members


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def package(document):
    content = canonical_bytes(document)
    return package_bytes(content, certificate_bytes(content, auditor_version=1))


def test_a_whole_package_is_said_to_be_one(commonwear, write, package, document):
    ended = commonwear("verify", write(package, "package.zip"))
    assert ended.code == 0
    assert "package.zip: whole" in ended.out
    assert f"hill-walkers, edition 7, {len(read_members(package))} files" in ended.out
    assert sha256_hex(canonical_bytes(document)) in ended.out


def test_the_file_at_fault_is_named_and_what_to_do(commonwear, write, package):
    members = {**read_members(package), "tables/skin.csv": b"forged"}
    ended = commonwear("verify", write(archive_bytes(members), "package.zip"))
    assert ended.code == 1
    assert "package.zip: not as published, 1 fault" in ended.out
    assert "tables/skin.csv: it is not what follows from edition.json." in flat(ended.out)
    assert "Fetch the package again" in flat(ended.out)


def test_of_several_the_highest_code_counts_and_json_has_standard_output_to_itself(commonwear, write, package):
    bad = write(b"no zip", "bad.zip")
    ended = commonwear("verify", "--json", bad, "absent.zip", write(package, "good.zip"))
    assert ended.code == 3
    assert [one["whole"] for one in ended.json["packages"]] == [False, False, True]
    assert ended.json["packages"][0]["faults"][0]["file"] == "the archive"
    assert ended.json["caution"]["text"] == CAUTION_TEXT
    assert "absent.zip: no such file or directory." in flat(ended.err)


def test_a_digest_or_key_that_was_named_must_be_the_one(commonwear, write, package):
    name = write(package, "package.zip")
    assert commonwear("verify", name, "--sha256", "0" * 64).code == 1
    ended = commonwear("verify", name, "--key", "ab" * 32, "--without-charts")
    assert ended.code == 1
    assert "this edition was not signed" in flat(ended.out)


def test_help_has_examples(commonwear):
    ended = commonwear("verify", "--help")
    assert ended.code == 0
    assert "commonwear verify package.zip --sha256" in ended.out
