"""Tables as CSV."""

import csv
import io

import pandas as pd
import pytest

from pooling.edition import TABLES, EmptyFit, assemble, table_csv
from pooling.errors import InvalidInput


def lines(document, table):
    return list(csv.DictReader(io.StringIO(table_csv(document, table), newline="")))


AT = {"reference_mg_dl", "sensor_mg_dl"}


@pytest.mark.parametrize("table", TABLES)
def test_every_line_carries_the_whole_caution(document, table):
    read = lines(document, table)
    assert len(read) == len(document["tables"][table])
    assert {line["caution"] for line in read} == {" ".join(document["caution"]["text"].split())}


@pytest.mark.parametrize("table", TABLES)
def test_every_number_of_the_table_stands_in_the_sheet(document, table):
    def numbers(node):
        if isinstance(node, dict):
            return [number for key, value in node.items() if key not in AT for number in numbers(value)]
        if isinstance(node, list):
            return [number for value in node for number in numbers(value)]
        return [float(node)] if isinstance(node, (int, float)) and not isinstance(node, bool) else []

    for row, line in zip(document["tables"][table], lines(document, table), strict=True):
        cells = [value for name, value in line.items() if name not in {"edition", "caution"}]
        written = sorted(float(cell) for cell in cells if cell.lstrip("-").replace(".", "", 1).isdigit())
        assert written == sorted(numbers(row))


def test_units_stand_in_the_column_names(document):
    header = table_csv(document, "sites").split("\r\n")[0].split(",")
    figures = [name for name in header if name.startswith(("mard", "bias", "within", "shows", "people_range"))]
    assert all(name.endswith(("_pct", "_mg_dl")) for name in figures)
    assert {"mard_pct", "mard_lower_95_pct", "mard_upper_95_pct", "shows_at_70_from_mg_dl"} <= set(figures)
    assert header[-1] == "caution"


def test_a_small_row_leaves_cells_empty(document):
    chest = next(line for line in lines(document, "sites") if line["site"] == "chest")
    assert chest["within_20_20_pct"] == chest["bias_lower_95_pct"] == chest["n_wears"] == ""
    assert chest["bias_pct"] != ""


def test_programs_read_it(document):
    frame = pd.read_csv(io.StringIO(table_csv(document, "sites")))
    assert frame["mard_pct"].dtype == "float64"
    assert frame["edition"].unique().tolist() == [7]


def test_lines_end_as_the_standard_says(document):
    # RFC 4180, section 2.
    assert table_csv(document, "sites").count("\r\n") == len(document["tables"]["sites"]) + 1


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_text_that_a_sheet_would_run_is_disarmed(document, start):
    # OWASP, "CSV injection": the starting characters to disarm.
    document["tables"]["sites"][0]["label"] = f'{start}HYPERLINK("x")'
    assert lines(document, "sites")[0]["label"].startswith(f"'{start}")


def test_negative_numbers_stay_numbers(document):
    assert any(float(line["bias_pct"]) < 0 for line in lines(document, "sites"))


def test_a_table_without_rows_carries_the_caution_and_no_figure(make_context):
    document = assemble(EmptyFit(), make_context())
    (line,) = csv.DictReader(io.StringIO(table_csv(document, "contrasts")))
    told = {name for name, cell in line.items() if cell}
    assert told == {"group", "edition", "caution"}


def test_no_such_table(document):
    with pytest.raises(InvalidInput, match="no such table"):
        table_csv(document, "members")
