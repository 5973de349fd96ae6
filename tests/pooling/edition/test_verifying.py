"""A package is checked by making it again; whatever was changed is named."""

import io
import json
import zipfile

import pytest

from pooling.edition import canonical_bytes, sha256_hex
from pooling.edition.certificate import certificate_bytes
from pooling.edition.package import archive_bytes, members_of, package_bytes, sums_text
from pooling.edition.signature import public_key_hex
from pooling.edition.verifying import check_package, read_members

MEMBERS = (
    "edition.json",
    "certificate.json",
    "signature.json",
    "CAUTION.txt",
    "TERMS.txt",
    "METHODS.md",
    "CITATION.cff",
    "datapackage.json",
    "tables/sites.csv",
    "tables/sites_by_model.csv",
    "tables/contrasts.csv",
    "tables/phases.csv",
    "tables/ranges.csv",
    "tables/prompts.csv",
    "tables/lows.csv",
    "tables/lots.csv",
    "tables/when_the_sensor_says.csv",
    "tables/survival.csv",
    "tables/skin.csv",
    "tables/ratings.csv",
    "charts/sites.svg",
    "charts/sites_by_model.svg",
    "charts/contrasts.svg",
    "charts/phases.svg",
    "charts/ranges.svg",
    "charts/prompts.svg",
    "charts/lows.svg",
    "charts/survival.svg",
    "charts/skin.svg",
    "SHA256SUMS",
)


def files_at_fault(raw, **asked):
    return [fault.file for fault in check_package(raw, **asked).faults]


def test_a_package_as_published_is_whole(package, content, key):
    checked = check_package(package, sha256=sha256_hex(content).upper(), public_key=public_key_hex(key))
    assert checked.faults == ()
    assert (checked.group, checked.number, checked.signed_by) == ("hill-walkers", 7, public_key_hex(key))
    assert checked.n_files == len(MEMBERS)


def test_so_is_one_that_was_not_signed(content, certificate):
    assert check_package(package_bytes(content, certificate)).signed_by is None
    assert files_at_fault(package_bytes(content, certificate)) == []


def altered(raw):
    """The same file with one figure changed, or one letter of it where it has none, and still of its kind."""
    text = raw.decode()
    place = next((index for index in reversed(range(len(text))) if text[index].isdigit()), len(text) // 2)
    changed = str((int(text[place]) + 1) % 10) if text[place].isdigit() else "x"
    return (text[:place] + changed + text[place + 1 :]).encode()


def test_every_member_is_looked_at(package):
    assert tuple(read_members(package)) == MEMBERS


@pytest.mark.parametrize("name", MEMBERS)
@pytest.mark.parametrize("how", ["altered", "emptied", "mended sums"])
def test_each_changed_member_is_named_and_no_other(package, name, how):
    members = read_members(package)
    changed = b"" if how == "emptied" else altered(members[name])
    assert changed != members[name]
    members[name] = changed
    if how == "mended sums" and name != "SHA256SUMS":
        members["SHA256SUMS"] = sums_text({n: c for n, c in members.items() if n != "SHA256SUMS"}).encode()
    found = check_package(archive_bytes(members)).faults
    assert found
    assert all(fault.do for fault in found)
    named = {fault.file for fault in found}
    if how == "mended sums":
        # Whoever mends the list changes it as well; of the two that were changed at least one is named.
        assert named & {name, "SHA256SUMS", "certificate.json"}
    else:
        assert named == {name}


@pytest.mark.parametrize("name", MEMBERS)
def test_each_missing_member_is_named(package, name):
    members = read_members(package)
    del members[name]
    found = files_at_fault(archive_bytes(members))
    assert found
    if name != "signature.json":
        assert found == [name]


def test_a_file_that_was_added_is_named(package):
    assert files_at_fault(archive_bytes({**read_members(package), "more.txt": b"x"})) == ["more.txt"]


def test_a_figure_changed_everywhere_is_found_by_digest_key_or_signature(document, content, package, key):
    document["tables"]["sites"][0]["mard_pct"]["value"] = 3
    other = canonical_bytes(document)
    certificate = certificate_bytes(other, auditor_version=1)
    forged = package_bytes(other, certificate)
    assert files_at_fault(forged) == []
    assert files_at_fault(forged, sha256=sha256_hex(content)) == ["edition.json"]
    assert files_at_fault(forged, public_key=public_key_hex(key)) == ["signature.json"]
    signed = json.loads(read_members(package)["signature.json"])
    assert files_at_fault(archive_bytes(members_of(other, certificate, signed))) == ["signature.json"]


def test_without_charts_everything_else_is_still_compared(package):
    members = read_members(package)
    members["charts/sites.svg"] = b"<svg>drawn elsewhere</svg>"
    members["SHA256SUMS"] = sums_text({n: c for n, c in members.items() if n != "SHA256SUMS"}).encode()
    assert files_at_fault(archive_bytes(members)) == ["charts/sites.svg", "SHA256SUMS"]
    assert "--without-charts" in check_package(archive_bytes(members)).faults[0].do
    assert files_at_fault(archive_bytes(members), charts=False) == []
    members["tables/skin.csv"] += b"x"
    assert files_at_fault(archive_bytes(members), charts=False) == ["tables/skin.csv"]


def zipped(*entries):
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        for name, content in entries:
            archive.writestr(name, content)
    return target.getvalue()


@pytest.mark.parametrize("raw", [b"", b"PK\x03\x04", b"not a zip", b"{}"])
def test_what_is_no_archive_is_said_so(raw):
    assert [fault.message for fault in check_package(raw).faults] == ["this is no zip archive, or not a whole one"]


def test_a_cut_or_damaged_archive_is_said_so(package):
    assert files_at_fault(package[: len(package) // 2]) == ["the archive"]
    place = package.index(b"Terms of use, version")
    assert files_at_fault(package[:place] + b"t" + package[place + 1 :]) == ["TERMS.txt"]


def test_the_same_files_packed_anew_are_told_apart(package):
    assert files_at_fault(zipped(*read_members(package).items())) == ["the archive"]


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_no_name_stands_twice(package):
    doubled = zipped(*read_members(package).items(), ("edition.json", b"{}"))
    assert [fault.message for fault in check_package(doubled).faults] == ["it holds a file of the same name twice"]


def test_an_archive_that_would_unpack_to_too_much_is_not_unpacked(monkeypatch, package):
    monkeypatch.setattr("pooling.edition.verifying.LARGEST_BYTES", 1000)
    assert files_at_fault(package) == ["the archive"]


@pytest.mark.parametrize("name", ["edition.json", "certificate.json", "signature.json"])
def test_what_no_edition_is_as_large_as_is_not_read(package, monkeypatch, name):
    """A little that was packed well would else be many times as much once it is read."""
    monkeypatch.setattr("pooling.edition.verifying._read", lambda *_: pytest.fail("unpacked"))
    members = {"edition.json": b"{}", "certificate.json": b"{}", name: b"{}," * 1_000_000}
    found = check_package(archive_bytes(members)).faults
    assert [(fault.file, fault.message) for fault in found] == [(name, "it is larger than any edition is")]


@pytest.mark.parametrize("change", [{"tables": {}}, {"group": 7}, {"caution": None}, {"number": "x"}, {"about": []}])
def test_a_document_that_lacks_parts_ends_in_words(document, change):
    from pooling.edition.package import CERTIFICATE, DOCUMENT

    content = canonical_bytes({**document, **change})
    found = check_package(archive_bytes({DOCUMENT: content, CERTIFICATE: b"{}"})).faults
    assert {fault.file for fault in found} <= {DOCUMENT, CERTIFICATE}
    assert found


@pytest.mark.parametrize("raw", [b"[" * 100_000, b"null", b"[]", b'{"a": NaN}', b"\xff"])
def test_odd_sources_end_in_words(content, certificate, raw):
    for name in ("edition.json", "certificate.json", "signature.json"):
        members = {"edition.json": content, "certificate.json": certificate, name: raw}
        assert name in files_at_fault(archive_bytes(members))
