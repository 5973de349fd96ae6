"""Files of an edition: the stored bytes, sheets and charts, each with the caution in it."""

import csv
import io
import json
from xml.etree import ElementTree

import pytest

from pooling.caution import CAUTION_SHORT, CAUTION_TEXT
from pooling.edition import assemble, canonical_bytes, sha256_hex
from server.core.errors import NotFound
from server.editions import rendering
from server.editions.rendering import CHART_FORMATS, CHARTS, TABLES, chart_file, chart_words, document_file, table_file
from server.editions.selectors import EditionView
from tests.pooling.conftest import make_context, make_fit, make_outcomes, make_parts

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def view():
    content = canonical_bytes(assemble(make_fit(), make_context(), make_outcomes(), make_parts()))
    return EditionView("hill-walkers", is_public=True, number=7, sha256=sha256_hex(content), content=content)


def test_the_document_is_the_stored_bytes(view):
    file = document_file(view)
    assert sha256_hex(file.content) == view.sha256
    assert json.loads(file.content)["caution"]["text"] == CAUTION_TEXT


@pytest.mark.parametrize("table", TABLES)
def test_every_line_of_a_sheet_carries_the_caution(view, table):
    file = table_file(view, table)
    lines = list(csv.DictReader(io.StringIO(file.content.decode())))
    assert len(lines) == len(view.document["tables"][table]) > 0
    assert {line["caution"] for line in lines} == {" ".join(CAUTION_TEXT.split())}
    assert file.media_type == "text/csv; charset=utf-8"


@pytest.mark.parametrize("chart", CHARTS)
def test_a_chart_is_drawn_with_the_caution_inside_and_asks_nobody(view, chart):
    svg = ElementTree.fromstring(chart_file(view, chart, "svg").content)
    drawn = "".join(word for text in svg.iter(f"{SVG}text") for word in "".join(text.itertext()).split())
    assert "".join(CAUTION_SHORT.split()) in drawn
    assert not list(svg.iter(f"{SVG}image"))


def test_a_png_is_one_and_is_twice_as_wide_as_asked_for(view):
    file = chart_file(view, "sites", "png", width=rendering.NARROW_CHART_WIDTH_PX)
    assert file.content.startswith(b"\x89PNG\r\n\x1a\n")
    width = int.from_bytes(file.content[16:20])  # IHDR, PNG specification (W3C 2003), 11.2.2
    assert width == pytest.approx(2 * rendering.NARROW_CHART_WIDTH_PX, abs=20)


def test_the_specification_is_what_the_pictures_are_drawn_from(view):
    spec = json.loads(chart_file(view, "sites", "json").content)
    assert spec["description"] == chart_words(view, "sites")
    assert "url" not in json.dumps(spec).replace(spec["$schema"], "")


def test_the_same_document_gives_the_same_file(view):
    for file_format in CHART_FORMATS:
        first = chart_file(view, "sites", file_format).content
        rendering._draw.cache_clear()
        assert chart_file(view, "sites", file_format).content == first


def test_other_names_and_formats_are_not_found(view):
    for ask in (
        lambda: table_file(view, "people"),
        lambda: chart_file(view, "people", "svg"),
        lambda: chart_file(view, "sites", "pdf"),
        lambda: chart_words(view, "people"),
    ):
        with pytest.raises(NotFound):
            ask()
