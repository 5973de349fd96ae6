"""The archive of an edition."""

import csv
import hashlib
import io
import json
import zipfile

import pytest

from pooling.caution import CAUTION_TEXT
from pooling.charts import CHARTS, chart_svg
from pooling.edition import TABLES, table_csv
from pooling.edition.package import package_bytes
from pooling.errors import InvalidInput


def opened(raw):
    return zipfile.ZipFile(io.BytesIO(raw))


def test_it_holds_the_document_and_all_that_follows_from_it(document, content, certificate, package):
    archive = opened(package)
    assert archive.testzip() is None
    assert archive.read("edition.json") == content
    assert archive.read("certificate.json") == certificate
    assert archive.read("CAUTION.txt").decode().strip() == CAUTION_TEXT
    for table in TABLES:
        assert archive.read(f"tables/{table}.csv").decode() == table_csv(document, table)
    for chart in CHARTS:
        assert archive.read(f"charts/{chart}.svg").decode() == chart_svg(document, chart)
    names = {"SHA256SUMS", "TERMS.txt", "METHODS.md", "CITATION.cff", "datapackage.json", "signature.json"}
    assert names < set(archive.namelist())


def test_the_same_three_give_the_same_bytes_and_nothing_of_the_hour(content, certificate, package, key):
    from pooling.edition.signature import sign_edition

    assert package_bytes(content, certificate, sign_edition(content, certificate, key)) == package
    entries = opened(package).infolist()
    assert {entry.date_time for entry in entries} == {(1980, 1, 1, 0, 0, 0)}
    assert {entry.compress_type for entry in entries} == {zipfile.ZIP_STORED}
    assert [entry.filename for entry in entries][:3] == ["edition.json", "certificate.json", "signature.json"]


def test_digests_stand_for_every_other_file_as_the_usual_tool_reads_them(package):
    archive = opened(package)
    lines = archive.read("SHA256SUMS").decode().splitlines()
    listed = dict(reversed(line.split("  ")) for line in lines)
    assert listed == {
        name: hashlib.sha256(archive.read(name)).hexdigest() for name in archive.namelist() if name != "SHA256SUMS"
    }


def test_an_edition_that_was_not_signed_has_no_signature(content, certificate):
    assert "signature.json" not in opened(package_bytes(content, certificate)).namelist()


def test_the_descriptor_names_files_that_are_there(package):
    archive = opened(package)
    for resource in json.loads(archive.read("datapackage.json"))["resources"]:
        content = archive.read(resource["path"])
        assert resource["bytes"] == len(content)
        assert next(csv.reader(io.StringIO(content.decode())))


def test_what_is_no_edition_makes_no_package(certificate):
    with pytest.raises(InvalidInput):
        package_bytes(b"{}", certificate)
