"""The data dictionary beside the tables."""

import csv
import io

import pytest

from pooling.edition import TABLES, sha256_hex, table_csv
from pooling.edition.dictionary import column_schema, data_package, table_path
from pooling.errors import InvalidInput


@pytest.fixture
def described(document):
    tables = {table_path(table): table_csv(document, table).encode() for table in TABLES}
    return data_package(document, tables, drawn_with="a library 1"), tables


def rows(content):
    return list(csv.DictReader(io.StringIO(content.decode(), newline="")))


def test_every_column_of_every_table_is_described_in_its_order(described):
    package, tables = described
    for resource in package["resources"]:
        fields = resource["schema"]["fields"]
        assert [field["name"] for field in fields] == tables[resource["path"]].decode().split("\r\n")[0].split(",")
        assert all(len(field["description"].split()) > 2 for field in fields)


CASTS = {
    "number": float,
    "integer": int,
    "string": str,
    "boolean": {"yes": True, "no": False}.__getitem__,
}


def test_every_cell_has_the_type_that_is_said(described):
    package, tables = described
    for resource in package["resources"]:
        for row in rows(tables[resource["path"]]):
            for field in resource["schema"]["fields"]:
                cell = row[field["name"]]
                if cell != "":
                    CASTS[field["type"]](cell)
                    assert cell in field.get("constraints", {}).get("enum", [cell])


def test_the_descriptor_has_what_the_standard_asks_for(described):
    # Frictionless Data Package, version 1: resources with name, path and profile; names of lower-case letters, digits,
    # ., _, - and /; a tabular resource has a schema with fields that have names.
    package, tables = described
    assert package["profile"] == "tabular-data-package"
    assert len(package["resources"]) == len(TABLES)
    for resource in package["resources"]:
        assert resource["profile"] == "tabular-data-resource"
        assert resource["name"].replace("-", "a").isalpha()
        assert resource["name"].islower()
        content = tables[resource["path"]]
        assert (resource["bytes"], resource["hash"]) == (len(content), f"sha256:{sha256_hex(content)}")


def test_a_column_that_nobody_explained_is_refused():
    with pytest.raises(InvalidInput, match="nobody has said"):
        column_schema("shoe_size")
