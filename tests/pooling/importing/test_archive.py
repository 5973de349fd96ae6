"""Spreadsheets that would fill the memory are refused before they can. A sheet of .xlsx may reach 1,048,576 rows and
16,384 columns (ECMA-376 leaves that to programs; the figures are common practice)."""

import io
import struct
import zipfile

import pytest

from fixtures.exports.workbooks import ods, xlsx
from pooling.errors import InvalidInput
from pooling.importing import limits
from pooling.importing.archive import unpacked

GOOD = xlsx({"Trace": [["time", "glucose"], ["2031-03-01 08:00", 112]]})
TABLE = '<table:table-row table:number-rows-repeated="{}"><table:table-cell table:number-columns-repeated="{}"{}'
TEXT = "<text:p>{}</text:p></table:table-cell></table:table-row>"


def packed(parts):
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return memory.getvalue()


def changed(data, name, change):
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = {entry: archive.read(entry) for entry in archive.namelist()}
    return packed(parts | {name: change(parts[name])})


def content_of(rows):
    """A workbook with these rows before the empty ones at its end."""
    tail = b'<table:table-row table:number-rows-repeated="1048000">'
    return changed(ods({"T": [["a", "b"]]}), "content.xml", lambda xml: xml.replace(tail, rows.encode() + tail))


def test_what_comes_out_is_the_same_without_compression():
    with zipfile.ZipFile(io.BytesIO(GOOD)) as before, zipfile.ZipFile(io.BytesIO(unpacked(GOOD))) as after:
        assert {name: before.read(name) for name in before.namelist()} == {
            name: after.read(name) for name in after.namelist()
        }
        assert {entry.compress_type for entry in after.infolist()} == {zipfile.ZIP_STORED}


def test_parts_that_are_no_table_are_left_behind():
    with_picture = packed({"xl/media/picture.png": b"\x89PNG", "xl/workbook.xml": b"<workbook/>"})
    with zipfile.ZipFile(io.BytesIO(unpacked(with_picture))) as after:
        assert after.namelist() == ["xl/workbook.xml"]


def test_a_part_that_unpacks_to_many_times_its_size_is_refused():
    with pytest.raises(InvalidInput, match="250 times its size"):
        unpacked(packed({"xl/workbook.xml": bytes(5_000_000)}))


def declaring(data, size):
    """An archive whose directory tells another size of its only part than the part has."""
    place = data.rindex(b"PK\x01\x02") + 24
    return data[:place] + struct.pack("<I", size) + data[place + 4 :]


def test_the_directory_alone_is_enough_to_refuse(monkeypatch):
    large = declaring(packed({"xl/workbook.xml": b"<workbook/>"}), limits.MAX_UNPACKED_BYTES + 1)
    monkeypatch.setattr(zipfile.ZipFile, "read", lambda *_: pytest.fail("something was unpacked"))
    with pytest.raises(InvalidInput, match="150,000,001 bytes once unpacked"):
        unpacked(large)


def test_a_directory_that_promises_less_than_there_is_is_refused():
    with pytest.raises(InvalidInput, match="damaged"):
        unpacked(declaring(packed({"xl/workbook.xml": b"<a>" + bytes(900)}), 20))


def test_too_many_parts_are_refused():
    with pytest.raises(InvalidInput, match="501 parts"):
        unpacked(packed({f"xl/{k}.xml": b"" for k in range(limits.MAX_PACKED_FILES + 1)}))


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (b'r="XFD1"', "columns up to 16,384"),
        (b'r="B1048576"', "rows down to 1,048,576"),
        (b"r = 'GR200000'", "40,000,000 cells"),
        (b'r="AAAAAAAA1"', "columns up to"),
        (b'r="B99999999999999999999"', "rows down to"),
    ],
)
def test_a_cell_far_out_is_refused(place, said):
    far = changed(GOOD, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b'r="B2"', place))
    with pytest.raises(InvalidInput, match=said):
        unpacked(far)


def test_long_texts_in_very_many_cells_are_refused():
    cells = b"".join(b'<c r="A%d" t="s"><v>0</v></c>' % k for k in range(1, 40_001))
    parts = {
        "xl/worksheets/sheet1.xml": cells,
        "xl/sharedStrings.xml": b"<sst><si><t>" + b"x" * 9_000 + b"</t></si></sst>",
    }
    with pytest.raises(InvalidInput, match="long texts"):
        unpacked(packed(parts))
    parts["xl/sharedStrings.xml"] = b"<sst><si><t>" + b"x" * 50_000 + b"</t></si></sst>"
    with pytest.raises(InvalidInput, match="a cell is longer than 2,000"):
        unpacked(packed(parts))


@pytest.mark.parametrize(
    ("rows", "columns", "rest", "said"),
    [
        (1_000_000, 1, ">" + TEXT.format("x"), "rows down to 1,000,001"),
        (1, 16_384, ">" + TEXT.format("x"), "columns up to 16,384"),
        (100_000, 150, ">" + TEXT.format("x"), "15,000,150 cells"),
        (100_000, 2, ">" + TEXT.format("x" * 2_000), "long texts"),
        (1, 16_384, ' office:value="1"/></table:table-row>', "columns up to 16,384"),
    ],
    ids=["rows", "columns", "cells", "texts", "numbers"],
)
def test_filled_cells_that_repeat_are_counted_out(rows, columns, rest, said):
    with pytest.raises(InvalidInput, match=said):
        unpacked(content_of(TABLE.format(rows, columns, rest)))


def test_empty_cells_that_repeat_are_no_fault():
    assert unpacked(content_of(TABLE.format(1_048_000, 16_384, "/></table:table-row>")))


def test_entities_do_not_grow():
    nested = '<!DOCTYPE a [<!ENTITY b "x"><!ENTITY c "{}"><!ENTITY d "{}">]><a>{}</a>'.format(
        "&b;" * 99, "&c;" * 99, "&d;" * 9999
    )
    with pytest.raises(InvalidInput):
        unpacked(packed({"content.xml": nested.encode()}))


@pytest.mark.parametrize("data", [b"PK\x03\x04", GOOD[:400], GOOD[:-30], GOOD.replace(b"PK\x01\x02", b"PK\x09\x09")])
def test_what_is_damaged_is_refused(data):
    with pytest.raises(InvalidInput, match="damaged"):
        unpacked(data)


def test_what_is_locked_is_refused():
    place = GOOD.index(b"PK\x01\x02") + 8
    locked = GOOD[:place] + struct.pack("<H", 1) + GOOD[place + 2 :]
    with pytest.raises(InvalidInput, match="password"):
        unpacked(locked)
