"""Charts: what they say, what they hold, and that they draw under a strict content policy."""

import json
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
import vl_convert

from pooling import charts
from pooling.edition import EmptyFit, assemble
from pooling.errors import InvalidInput
from pooling.marks import finding, marks_of

TABLES = charts.CHARTS
WIDTHS = (320, 360, 900)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(name="nothing")
def _nothing(make_context) -> dict:
    return assemble(EmptyFit(), make_context())


def drawn(spec: dict) -> ET.Element:
    return ET.fromstring(vl_convert.vegalite_to_svg(spec))


def texts(svg: ET.Element) -> list[str]:
    return ["".join(element.itertext()) for element in svg.iter(f"{SVG}text")]


def values_of(spec: dict) -> list[dict]:
    return spec["data"]["values"]


class TestDrawing:
    @pytest.mark.parametrize("table", TABLES)
    @pytest.mark.parametrize("width", WIDTHS)
    def test_it_draws_at_the_width_asked_for(self, document, table, width):
        svg = drawn(charts.forest_plot(document, table, width=width))
        assert int(svg.get("width")) <= width

    @pytest.mark.parametrize("table", TABLES)
    def test_every_row_stands_in_the_picture_with_its_numbers(self, document, table):
        seen = texts(drawn(charts.forest_plot(document, table, width=900)))
        for mark in marks_of(document, table):
            assert mark.reads in seen
            assert any(text.startswith(mark.name) for text in seen)

    @pytest.mark.parametrize("table", TABLES)
    def test_a_strict_policy_lets_it_through(self, document, table):
        # Content Security Policy level 3: style attributes, style elements and scripts need permission of their own.
        raw = vl_convert.vegalite_to_svg(charts.forest_plot(document, table))
        assert not re.search(r"<(script|style|foreignObject|image)\b|\b(style|on\w+)=|https?://(?!www\.w3\.org/)", raw)

    @pytest.mark.parametrize("table", TABLES)
    @pytest.mark.parametrize("width", WIDTHS)
    def test_the_caution_is_drawn_into_it(self, document, table, width):
        seen = " ".join(" ".join(texts(drawn(charts.forest_plot(document, table, width=width)))).split())
        words = document["caution"]["short"].split()
        assert "".join(words) in seen.replace(" ", "")

    def test_it_becomes_a_png(self, document):
        assert vl_convert.vegalite_to_png(charts.forest_plot(document, "sites"))[:8] == b"\x89PNG\r\n\x1a\n"

    def test_an_empty_edition_draws_one_sentence_and_the_caution(self, nothing):
        for table in TABLES:
            assert charts.NO_ROWS in texts(drawn(charts.forest_plot(nothing, table, width=360)))


class TestContent:
    @pytest.mark.parametrize("table", ["sites", "sites_by_model"])
    def test_sites_stand_by_value_within_their_model(self, document, table):
        rows = {
            (row["sensor_model"] or "", row["mard_pct"]["value"], row["label"]) for row in document["tables"][table]
        }
        table_order = [(mark.sensor_model or "", mark.name) for mark in marks_of(document, table)]
        assert table_order == [(model, label) for model, _, label in sorted(rows)]
        lines = [value["line_y"] for value in values_of(charts.forest_plot(document, table))]
        assert lines == sorted(lines)

    def test_points_and_intervals_are_the_document_s(self, document):
        drawn_numbers = {(v["value"], v["lower"], v["upper"]) for v in values_of(charts.forest_plot(document, "sites"))}
        figures = [row["mard_pct"] for row in document["tables"]["sites"]]
        assert drawn_numbers == {(figure["value"], figure["lower"], figure["upper"]) for figure in figures}

    def test_no_other_figure_of_the_document_enters(self, document):
        for row in document["tables"]["sites"]:
            row["bias_pct"] = row["within_15_15_pct"] = {"value": 987.5}
            row["shows"] = []
        document["model"] = {"cells": [{"location": {"value": 987.5}}]}
        assert "987.5" not in json.dumps([charts.forest_plot(document, table) for table in TABLES])

    def test_only_primary_contrasts_over_all_models_are_drawn_while_there_are_any(self, document):
        assert len(marks_of(document, "contrasts")) == 2
        for row in document["tables"]["contrasts"]:
            row["primary"] = False
        assert len(marks_of(document, "contrasts")) == 3
        for row in document["tables"]["contrasts"]:
            row["sensor_model"] = "demo-a14"
        assert len(marks_of(document, "contrasts")) == 4

    def test_licensed_sites_are_named_and_drawn_otherwise(self, document):
        values = values_of(charts.forest_plot(document, "sites"))
        assert {value["label"].partition(",")[0] for value in values if value["licensed"]} == {"back of the upper arm"}
        assert all(("licensed" in value["label"]) == value["licensed"] for value in values)

    def test_what_rests_on_choice_is_said(self, document):
        assert "who chose" in " ".join(charts.forest_plot(document, "contrasts")["title"]["subtitle"])
        for row in document["tables"]["contrasts"]:
            row["basis"] = "from people who wore both"
        assert "who chose" not in " ".join(charts.forest_plot(document, "contrasts")["title"]["subtitle"])

    def test_rows_do_not_run_into_each_other(self, document):
        for width in WIDTHS:
            values = values_of(charts.forest_plot(document, "sites_by_model", width=width))
            for above, below in pairwise(values):
                assert above["text_y"] + 14 * len(above["label"].split("\n")) <= above["line_y"] < below["text_y"]

    def test_the_axis_says_what_is_measured(self, document):
        assert charts.SITE_AXIS in texts(drawn(charts.forest_plot(document, "sites")))
        assert charts.CONTRAST_AXIS in texts(drawn(charts.forest_plot(document, "contrasts")))


class TestWords:
    def test_sites(self, document):
        assert finding(document, "sites") == (
            "Of 7 rows, the expected difference from the fingerstick (MARD, %) is smallest for back of the upper arm: "
            "9.15 (8.55 to 9.8), at least 100 people, and largest for calf: 13 (10 to 17), at least 5 people; these "
            "two 95 % intervals do not overlap."
        )

    def test_contrasts(self, document):
        assert finding(document, "contrasts") == (
            "Of 2 comparisons, 2 have a 95 % interval that leaves out zero; the largest difference in expected MARD, "
            "in points, is that of chest against back of the upper arm: +3.5 (2.5 to 4.5), at least 10 people."
        )

    def test_a_single_row_and_none(self, document, nothing):
        document["tables"]["sites"] = document["tables"]["sites"][:1]
        assert "the only row" in finding(document, "sites")
        assert finding(nothing, "sites") == charts.NO_ROWS

    def test_the_picture_carries_them(self, document):
        for table in TABLES:
            assert charts.forest_plot(document, table)["description"] == finding(document, table)

    def test_no_such_table(self, document):
        with pytest.raises(InvalidInput, match="no such chart"):
            charts.forest_plot(document, "people")
